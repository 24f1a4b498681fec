package process

import (
	"fmt"
	"slices"
	"strings"
)

// A Rung is a step of the yield ladder, at which pieces are weighed.
type Rung string

// A Way is on which side of a stage pieces were counted.
type Way string

// The steps of the ladder below the green weight, in their order. The last three are what
// a piece was cut into.
const (
	RungTrim   Rung = "after-trim"
	RungCure   Rung = "after-cure"
	RungSmoke  Rung = "after-smoke"
	RungSliced Rung = "sliced"
	RungEnds   Rung = "ends"
	RungRind   Rung = "rind"
)

// Pieces are counted into a stage and out of it.
const (
	WayIn  Way = "in"
	WayOut Way = "out"
)

var ladder = [...]Rung{RungTrim, RungCure, RungSmoke, RungSliced, RungEnds, RungRind}

// Ladder returns the steps of the yield ladder in their order.
func Ladder() []Rung { return slices.Clone(ladder[:]) }

// Words is the step as people say it.
func (s Rung) Words() string { return strings.ReplaceAll(string(s), "-", " ") }

// partial reports a step that weighs a part of the piece only.
func (s Rung) partial() bool { return s == RungSliced || s == RungEnds || s == RungRind }

// A PieceWeight is what one piece weighs, or with no name all of the batch together.
type PieceWeight struct {
	Piece string  `json:"piece,omitempty"`
	Grams float64 `json:"g"`
}

// A YieldStep is what was weighed at one step of the ladder.
type YieldStep struct {
	Rung   Rung     `json:"rung"`
	Grams  float64  `json:"g"`
	Green  float64  `json:"green_g"`          // of the pieces that were weighed
	Pieces []string `json:"pieces,omitempty"` // that were weighed; empty: all together
}

// Percent is the yield on green weight, %.
func (y YieldStep) Percent() float64 { return 100 * y.Grams / y.Green }

// Weighings are what a CommandWeighed says.
func (c Command) Weighings() []PieceWeight {
	if len(c.Weights) > 0 {
		return c.Weights
	}
	return []PieceWeight{{pieceOf(c), c.Value}}
}

// checkWeighed refuses a weight that no such piece can have. With a step that weighs a
// part of it, or all of the batch, there is no least.
func (b *Batch) checkWeighed(c Command) error {
	if err := b.checkPieces(c); err != nil {
		return err
	}
	if c.Rung != "" && !slices.Contains(ladder[:], c.Rung) {
		return refuse(fmt.Sprintf("%q is no step of the yield", c.Rung), "say after-trim, after-cure, after-smoke, sliced, ends or rind")
	}
	if len(c.Pieces) > 1 || len(c.Weights) > 0 && (len(c.Pieces) > 0 || c.Value != 0) {
		return refuse("a weight without its piece", "name one of "+b.pieceList())
	}
	seen := map[string]bool{}
	for _, w := range c.Weighings() {
		if err := b.checkWeight(c.Rung, w); err != nil {
			return err
		}
		if seen[w.Piece] {
			return refuse(fmt.Sprintf("piece %s is weighed twice", w.Piece), "one weight for each piece")
		}
		seen[w.Piece] = true
	}
	return nil
}

func (b *Batch) checkWeight(rung Rung, w PieceWeight) error {
	switch {
	case w.Piece == "" && rung == "" && len(b.Pieces) > 1:
		return refuse("a weight without its piece", "name one of "+b.pieceList())
	case w.Piece != "" && !b.hasPiece(w.Piece):
		return refuse(fmt.Sprintf("batch %s has no piece %q", b.ID, w.Piece), "its pieces are "+b.pieceList())
	}
	green, least := b.allGreenG(w.Piece), lightest
	if rung.partial() {
		least = 0
	}
	if !(w.Grams > 0 && w.Grams >= least*green && w.Grams <= heaviest*green) {
		return refuse(fmt.Sprintf("%.4g g cannot be the weight of a piece of %.4g g green", w.Grams, green), "look at the point and the unit, and type the weight: 1890g")
	}
	return nil
}

// allGreenG is the green weight of a piece, g, or of all of them when none is named.
func (b *Batch) allGreenG(piece string) (green float64) {
	for _, p := range b.Pieces {
		if piece == "" || p.Name == piece {
			green += p.GreenG
		}
	}
	return green
}

// Yield is what was weighed at each step of the ladder, in its order: of each piece what
// was typed last, or all together when that was typed after.
func (b *Batch) Yield() (out []YieldStep) {
	for _, rung := range ladder {
		if y := b.yieldAt(rung); y.Grams > 0 {
			out = append(out, y)
		}
	}
	return out
}

func (b *Batch) yieldAt(rung Rung) YieldStep {
	y := YieldStep{Rung: rung}
	newest := map[string]HandEntry{}
	for _, h := range b.Hand {
		if h.Placement != Weight || h.Rung != rung {
			continue
		}
		if h.Piece == "" {
			clear(newest)
		} else {
			delete(newest, "")
		}
		newest[h.Piece] = h
	}
	if all, ok := newest[""]; ok {
		y.Grams, y.Green = all.Value, b.allGreenG("")
		return y
	}
	for _, p := range b.Pieces {
		if h, ok := newest[p.Name]; ok {
			y.Grams, y.Green, y.Pieces = y.Grams+h.Value, y.Green+p.GreenG, append(y.Pieces, p.Name)
		}
	}
	return y
}

// checkCounted refuses what is no number of pieces, and a stage that the batch was not in.
func (b *Batch) checkCounted(c Command) error {
	if err := checkCounted(c); err != nil {
		return err
	}
	if c.Way != "" && c.Way != WayIn && c.Way != WayOut {
		return refuse(fmt.Sprintf("%q is no side of a stage", c.Way), "say in or out")
	}
	entered := func(e StageEntry) bool { return e.Name == c.Stage }
	if c.Stage != "" && !slices.ContainsFunc(b.Stages, entered) {
		return refuse(fmt.Sprintf("batch %s was not in stage %q", b.ID, c.Stage), "its stage is "+string(b.Stage().Name))
	}
	return nil
}

// counted takes a count that checkCounted has let through.
func (b *Batch) counted(c Command) {
	stage := c.Stage
	if stage == "" {
		stage = b.stageAt(c.At)
	}
	b.Counts = append(b.Counts, Count{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Stage: stage, Way: c.Way, Pieces: int(c.Value)})
}

// weighed takes weights that checkWeighed has let through.
func (b *Batch) weighed(c Command) {
	for _, w := range c.Weighings() {
		b.Hand = append(b.Hand, HandEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Placement: Weight, Piece: w.Piece, Value: w.Grams, Rung: c.Rung, Text: c.Text})
	}
}

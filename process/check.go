package process

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// maxText bounds a note, in bytes.
const maxText = 2000

// ahead is how far in the future an event may be said to have happened: people
// round up.
const ahead = 2 * time.Minute

// Check says whether command c may be applied to batch b now. The error is a
// *Refusal; a refused command changes nothing. b is nil for CommandNew.
func Check(b *Batch, c Command, now time.Time) error {
	if strings.TrimSpace(c.By) == "" {
		return refuse("nobody signed", "add your initials: --by T.V.")
	}
	if c.At.After(now.Add(ahead)) {
		return refuse(fmt.Sprintf("%s has not happened yet", c.At.Format(time.RFC3339)), "name a time that has passed, or leave it out for now")
	}
	if c.Kind == CommandNew {
		return c.New.check(c.Batch)
	}
	if err := b.checkClosed(c); err != nil {
		return err
	}
	if c.At.Before(b.Started) {
		return refuse(fmt.Sprintf("%s is before batch %s began", c.At.Format(time.RFC3339), b.ID), "name a later time")
	}
	if c.Strikes != "" || c.Kind == CommandStruck {
		if err := b.checkStrike(c, now); err != nil || c.Kind == CommandStruck || c.Kind == CommandStage {
			return err // a stage was looked at among its neighbours
		}
	}
	return b.checkKind(c)
}

func (b *Batch) checkKind(c Command) error {
	switch c.Kind {
	case CommandStage:
		return b.checkStage(c)
	case CommandTurned:
		return b.checkTurned(c)
	case CommandReading:
		return b.checkReading(c)
	case CommandWeighed:
		return b.checkWeighed(c)
	case CommandCounted:
		return b.checkCounted(c)
	case CommandDosed:
		return b.checkDosed(c)
	case CommandTasted:
		return checkTasted(c)
	case CommandCost:
		return checkCost(c)
	case CommandNote:
		return checkNote(c)
	case CommandAction:
		return b.checkAction(c)
	case CommandDisposition:
		return b.checkDisposition(c)
	case CommandReviewed:
		return checkReview(c)
	case CommandClose:
		return b.checkClose(c)
	}
	return refuse(fmt.Sprintf("%q is not a command of a batch", c.Kind), "say stage, turned, dosed, reading, weighed, counted, tasted, cost, note, struck, corrective-action, disposition, reviewed or close")
}

func (b *Batch) checkStage(c Command) error {
	if b.Plan.index(c.Stage) < 0 {
		return refuse(fmt.Sprintf("plan %s has no stage %q", b.Plan.Name, c.Stage), "its stages are "+b.Plan.stageList())
	}
	if err := b.sameStage(c); err != nil {
		return err
	}
	if c.At.Before(b.StageEntered()) {
		return refuse(fmt.Sprintf("stage %s was entered at %s, after the time you named", b.Stage().Name, b.StageEntered().Format(time.RFC3339)), "name a later time")
	}
	next := b.NextStages()
	for _, name := range next {
		if name == c.Stage {
			return b.checkDoses(c)
		}
	}
	if len(next) == 0 {
		return refuse(fmt.Sprintf("stage %s is the last one", b.Stage().Name), "close the batch instead")
	}
	return refuse(fmt.Sprintf("stage %s does not come after %s", c.Stage, b.Stage().Name), "the next stage is "+joinStages(next))
}

func (b *Batch) checkTurned(c Command) error {
	if stage := b.stageAt(c.At); stage != StageCure {
		return refuse(fmt.Sprintf("batch %s was in stage %s then, not in cure", b.ID, stage), "a turn is only logged in cure; write a note instead")
	}
	if err := b.checkPieces(c); err != nil {
		return err
	}
	return b.sameTurn(c)
}

func (b *Batch) checkReading(c Command) error {
	if c.Placement == PH {
		if !(c.Value >= 3 && c.Value <= 9) {
			return refuse(fmt.Sprintf("a pH of %g cannot be of meat", c.Value), "rinse and check the meter, and type the pH: 5.2")
		}
		return b.checkPieces(c)
	}
	if !c.Placement.IsTemperature() {
		return refuse(fmt.Sprintf("a hand reading of %q is not a temperature", c.Placement), "say core, chamber, product, air, wet-bulb, ambient or ph")
	}
	if !(c.Value >= -60 && c.Value <= 400) {
		return refuse(fmt.Sprintf("%g °C cannot be", c.Value), "type the value with its unit: 61.5C or 142F")
	}
	return b.checkPieces(c)
}

func (b *Batch) checkPieces(c Command) error {
	for _, p := range c.Pieces {
		if !b.hasPiece(p) {
			return refuse(fmt.Sprintf("batch %s has no piece %q", b.ID, p), "its pieces are "+b.pieceList())
		}
	}
	return nil
}

// A weight is compared with the green weight: a slip of the point or of the unit is
// refused, pickle taken up and drying to the bone are not.
const (
	lightest = 0.15 // of the green weight (proposal)
	heaviest = 1.5  // (proposal)
)

// canWeigh reports whether a piece can weigh so much, g. An empty scale does not.
func (b *Batch) canWeigh(piece string, grams float64) bool {
	green := b.greenG(piece)
	return grams >= lightest*green && grams <= heaviest*green
}

// greenG is the green weight of a piece, g; of the first when none is named.
func (b *Batch) greenG(piece string) float64 {
	for _, p := range b.Pieces {
		if p.Name == piece {
			return p.GreenG
		}
	}
	return b.Pieces[0].GreenG
}

func checkCounted(c Command) error {
	if !(c.Value >= 0 && c.Value <= 1000) || c.Value != math.Trunc(c.Value) {
		return refuse(fmt.Sprintf("%g cannot be a number of pieces", c.Value), "count them, and type a whole number: 7")
	}
	return nil
}

func (b *Batch) checkClose(c Command) error {
	if c.At.Before(b.StageEntered()) {
		return refuse("the present stage was entered after the time you named", "name a later time")
	}
	last := b.Plan.Stages[len(b.Plan.Stages)-1].Name
	if b.Stage().Name != last && strings.TrimSpace(c.Text) == "" {
		return refuse(fmt.Sprintf("batch %s is in stage %s and the plan ends with %s", b.ID, b.Stage().Name, last), "say why it ends here: --text \"...\"")
	}
	return nil
}

// checkNote lets a picture stand without words.
func checkNote(c Command) error {
	if c.Photo != nil && strings.TrimSpace(c.Text) == "" {
		return nil
	}
	return checkText(c.Text)
}

// checkReview bounds what may be written beside a review; most say nothing.
func checkReview(c Command) error {
	if strings.TrimSpace(c.Text) == "" {
		return nil
	}
	return checkText(c.Text)
}

func checkText(text string) error {
	if strings.TrimSpace(text) == "" {
		return refuse("the note is empty", "write what happened")
	}
	if len(text) > maxText {
		return refuse(fmt.Sprintf("the note has %d characters", len(text)), fmt.Sprintf("keep it under %d", maxText))
	}
	return nil
}

// check refuses a batch that could not be computed.
func (n *NewBatch) check(id string) error {
	if n == nil || len(n.Plan.Stages) == 0 {
		return refuse("no plan", "name one: --plan belly-dry-cured")
	}
	if strings.TrimSpace(id) == "" || len(id) > 60 || strings.ContainsAny(id, "/\\?#%\"<>\n\r\t") {
		return refuse(fmt.Sprintf("batch name %q cannot be used", id), "use letters, digits and dashes: OL-31-04")
	}
	if len(n.Pieces) == 0 {
		return refuse("no pieces", "add each slab with weight and thickness: --piece A:2268g:38mm")
	}
	names := map[string]bool{}
	for _, p := range n.Pieces {
		if err := p.check(names); err != nil {
			return err
		}
	}
	for _, p := range n.Probes {
		if p.Piece != "" && !names[p.Piece] {
			return refuse(fmt.Sprintf("probe %s is put in piece %q, which is not in the batch", p.Probe, p.Piece), "put it in one of the pieces")
		}
	}
	return n.Asked.checkAsked(names)
}

func (p Piece) check(names map[string]bool) error {
	switch {
	case strings.TrimSpace(p.Name) == "":
		return refuse("a piece without a name", "give each slab a letter: A:2268g:38mm")
	case names[p.Name]:
		return refuse(fmt.Sprintf("piece %s is there twice", p.Name), "give each slab its own letter")
	case !(p.GreenG > 0) || p.GreenG > 100_000:
		return refuse(fmt.Sprintf("piece %s weighs %g g", p.Name, p.GreenG), "type the green weight, above 0 and up to 100 kg: 2268g")
	case !(p.ThicknessMM > 0) || p.ThicknessMM > 500:
		return refuse(fmt.Sprintf("piece %s is %g mm thick", p.Name, p.ThicknessMM), "measure the thickest place, above 0 and up to 500 mm: 38mm")
	}
	names[p.Name] = true
	return nil
}

func refuse(what, hint string) error { return &Refusal{What: what, Hint: hint} }

func (b *Batch) hasPiece(name string) bool {
	for _, p := range b.Pieces {
		if p.Name == name {
			return true
		}
	}
	return false
}

func (b *Batch) pieceList() string {
	names := make([]string, len(b.Pieces))
	for i, p := range b.Pieces {
		names[i] = p.Name
	}
	return strings.Join(names, ", ")
}

func (p Plan) stageList() string {
	names := make([]StageName, len(p.Stages))
	for i, s := range p.Stages {
		names[i] = s.Name
	}
	return joinStages(names)
}

func joinStages(names []StageName) string {
	text := make([]string, len(names))
	for i, n := range names {
		text[i] = string(n)
	}
	return strings.Join(text, ", ")
}

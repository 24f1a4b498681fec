package process

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// A Disposition is what becomes of pieces that are held, or may have to be.
type Disposition string

// The dispositions, in the words of the trade.
const (
	ContinueAndFinish Disposition = "continue and finish"
	HoldForAdvice     Disposition = "hold for advice"
	ReleaseFromHold   Disposition = "release from hold"
	Rework            Disposition = "rework"
	Discard           Disposition = "discard"
)

// Dispositions lists all dispositions.
func Dispositions() []Disposition {
	return []Disposition{ContinueAndFinish, HoldForAdvice, ReleaseFromHold, Rework, Discard}
}

func dispositionList() string {
	var words []string
	for _, d := range Dispositions() {
		words = append(words, string(d))
	}
	return strings.Join(words, ", ")
}

// A DispositionEntry is a disposition as it was entered.
type DispositionEntry struct {
	ID     string      `json:"id"`    // of its command
	At     time.Time   `json:"at"`    // by the person's word
	Typed  time.Time   `json:"typed"` // by the daemon's clock
	By     string      `json:"by"`
	What   Disposition `json:"what"`
	Pieces []string    `json:"pieces,omitempty"` // empty: all
	Why    string      `json:"why"`
	Covers []Covered   `json:"covers,omitempty"` // the deviations as they stood when it was typed
}

func (e DispositionEntry) of(piece string) bool {
	return len(e.Pieces) == 0 || slices.Contains(e.Pieces, piece)
}

func (b *Batch) checkDisposition(c Command) error {
	if !slices.Contains(Dispositions(), c.Disposition) {
		return refuse(fmt.Sprintf("%q is no disposition", c.Disposition), "say one of: "+dispositionList())
	}
	if strings.TrimSpace(c.Text) == "" {
		return refuse("a disposition without its reason", "write on the basis of what it was decided")
	}
	if len(c.Text) > maxText {
		return checkText(c.Text)
	}
	return b.checkPieces(c)
}

func (b *Batch) disposed(c Command) {
	b.Dispositions = append(b.Dispositions, DispositionEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, What: c.Disposition, Pieces: c.Pieces, Why: c.Text, Covers: c.Covers})
	slices.SortStableFunc(b.Dispositions, func(a, b DispositionEntry) int { return a.Typed.Compare(b.Typed) })
}

// covered are the deviations as they stand, for a disposition of them.
func (b *Batch) covered() (out []Covered) {
	for _, d := range b.Deviations(b.Now) {
		out = append(out, Covered{d.Name, d.Sum})
	}
	return out
}

// A lot is how the dispositions leave one piece.
type lot struct {
	gone    bool      // discarded
	advice  bool      // held until somebody who knows has spoken
	ended   []Covered // deviations that hold it no more
	decided []Covered // deviations about which anything was decided
}

func (b *Batch) lotOf(piece string) (l lot) {
	for _, e := range b.Dispositions {
		if !e.of(piece) {
			continue
		}
		l.decided = append(l.decided, e.Covers...)
		switch e.What {
		case Discard:
			l.gone = true
		case HoldForAdvice:
			l.advice, l.ended = true, nil
		default:
			l.advice, l.ended = false, append(l.ended, e.Covers...)
		}
	}
	return l
}

// on reports whether something decided covers the deviation as it stands.
func (d Deviation) on(list []Covered) bool { return slices.ContainsFunc(list, d.decided) }

// Holds are the reasons for which pieces are held as of now: the deviations without a
// disposition that ends it, and "for advice". A piece that was discarded is held no more.
func (b *Batch) Holds(now time.Time) (reasons []string) {
	return b.waiting(now, func(l lot, d Deviation) bool { return !d.on(l.ended) }, true)
}

// Undecided are the deviations about which nobody has said anything yet for some piece.
func (b *Batch) Undecided(now time.Time) (names []string) {
	return b.waiting(now, func(l lot, d Deviation) bool { return !d.on(l.decided) }, false)
}

func (b *Batch) waiting(now time.Time, open func(lot, Deviation) bool, advice bool) (names []string) {
	add := func(name string) {
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	deviations := b.Deviations(now)
	for _, p := range b.Pieces {
		l := b.lotOf(p.Name)
		if l.gone {
			continue
		}
		for _, d := range deviations {
			if d.touches(p.Name) && open(l, d) {
				add(d.Name)
			}
		}
		if l.advice && advice {
			add("for advice")
		}
	}
	return names
}

// DispositionOf is the newest disposition that decided on the named deviation as it
// stands; false when there is none.
func (b *Batch) DispositionOf(name string, now time.Time) (newest DispositionEntry, ok bool) {
	for _, d := range b.Deviations(now) {
		for _, e := range b.Dispositions {
			if d.Name == name && d.on(e.Covers) {
				newest, ok = e, true
			}
		}
	}
	return newest, ok
}

// CheckStanding refuses what the batch as it stands does not allow, where what was
// measured may change that until the command is evaluated: it is asked when a command
// comes, and not again.
func CheckStanding(b *Batch, c Command) error {
	switch c.Kind {
	case CommandClose:
		if open := b.Undecided(c.Typed); b.Open() && len(open) > 0 {
			return refuse(fmt.Sprintf("batch %s is held (%s)", b.ID, strings.Join(open, ", ")),
				"say first what becomes of it: flitch batch disposition "+b.ID+" \"hold for advice\" --reason ...; also: "+dispositionList())
		}
	case CommandDisposition:
		if c.Disposition == ReleaseFromHold && len(b.Holds(c.Typed)) == 0 {
			return refuse("batch "+b.ID+" is not held", "there is nothing to release; say \"continue and finish\", or write a note")
		}
	case CommandReviewed:
		return b.sameReview(c)
	}
	return nil
}

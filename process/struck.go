package process

import (
	"slices"
	"time"
)

// Struck is something that was said of a batch and taken back, or corrected. It stays on
// the record with who did that and why: 21 CFR 117.305 and 9 CFR 417.5 know no silent edit.
type Struck struct {
	Was     Command   `json:"was"` // as it was said
	ID      string    `json:"id"`  // of the command that struck it out
	By      string    `json:"by"`
	At      time.Time `json:"at"` // when it was struck out, by the daemon's clock
	Why     string    `json:"why,omitempty"`
	Instead bool      `json:"instead,omitempty"` // that command stands in its place
}

// InForce separates what was said of a batch, in the order of the log, into what counts
// and what was struck out since. A plain strike makes a command as if it had never been
// said, and what it struck out itself counts again. A correction stands where the command
// was that it corrects, so that of the same moment the order stays; the command corrected
// does not come back when the correction is corrected once more.
func InForce(said []Input) (stands []Input, struck []Struck) {
	by, annulled := map[string]Command{}, map[string]bool{}
	for i := len(said) - 1; i >= 0; i-- {
		c := said[i].Command
		if c.Strikes == "" || annulled[c.ID] {
			continue
		}
		by[c.Strikes] = c
		annulled[c.Strikes] = annulled[c.Strikes] || c.Kind == CommandStruck
	}
	place := map[string]int{} // where a command stands, by its ID
	for _, in := range said {
		c := in.Command
		strike, out := by[c.ID]
		at, corrects := place[c.Strikes]
		switch {
		case c.Kind == CommandStruck:
			continue
		case corrects && c.Strikes != "" && !annulled[c.ID]:
		default:
			at = len(stands)
			stands = append(stands, Input{})
		}
		place[c.ID] = at
		if out {
			struck = append(struck, strike.struck(c))
			continue
		}
		in.Command.Strikes, in.Command.Why = "", ""
		stands[at] = in
	}
	return withoutEmpty(stands), struck
}

func (c Command) struck(was Command) Struck {
	return Struck{Was: was, ID: c.ID, By: c.By, At: c.Typed, Why: c.Why, Instead: c.Kind != CommandStruck}
}

// withoutEmpty drops the places in which nothing stands.
func withoutEmpty(list []Input) []Input {
	kept := list[:0]
	for _, in := range list {
		if in.Command.Kind != "" {
			kept = append(kept, in)
		}
	}
	return kept
}

// An Entered is one thing that a person entered and that counts.
type Entered struct {
	ID    string
	Kind  CommandKind
	By    string
	At    time.Time // when it happened, by the person's word
	Typed time.Time // by the daemon's clock
}

// Entered finds what counts of the batch by the ID of its command.
func (b *Batch) Entered(id string) (Entered, bool) {
	all := b.allEntered()
	if i := slices.IndexFunc(all, func(e Entered) bool { return e.ID == id }); i >= 0 {
		return all[i], true
	}
	return Entered{}, false
}

// allEntered is everything that counts, list by list. Papers are among it: they are not
// struck out, but followed by another of their kind.
func (b *Batch) allEntered() (all []Entered) {
	for _, e := range b.Stages {
		all = append(all, Entered{e.ID, CommandStage, e.By, e.Entered, e.Typed})
	}
	for _, e := range b.Turns {
		all = append(all, e.entered())
	}
	for _, e := range b.Hand {
		all = append(all, Entered{e.ID, e.kind(), e.By, e.At, e.Typed})
	}
	for _, e := range b.Counts {
		all = append(all, Entered{e.ID, CommandCounted, e.By, e.At, e.Typed})
	}
	for _, e := range b.Notes {
		all = append(all, Entered{e.ID, CommandNote, e.By, e.At, e.Typed})
	}
	for _, e := range b.Doses {
		all = append(all, Entered{e.ID, CommandDosed, e.By, e.At, e.Typed})
	}
	for _, e := range b.Costs {
		all = append(all, Entered{e.ID, CommandCost, e.By, e.At, e.Typed})
	}
	for _, e := range b.Actions {
		all = append(all, Entered{e.ID, CommandAction, e.By, e.At, e.Typed})
	}
	for _, e := range b.Dispositions {
		all = append(all, Entered{e.ID, CommandDisposition, e.By, e.At, e.Typed})
	}
	for _, e := range b.Reviews {
		all = append(all, Entered{e.ID, CommandReviewed, e.By, e.At, e.Typed})
	}
	return all
}

func (t Turn) entered() Entered { return Entered{t.ID, CommandTurned, t.By, t.At, t.Typed} }

// kind is the command that entered it.
func (e HandEntry) kind() CommandKind {
	if e.Placement == Weight {
		return CommandWeighed
	}
	return CommandReading
}

// StruckOut finds what was struck out, by the ID of its command.
func (b *Batch) StruckOut(id string) (Struck, bool) {
	for _, s := range b.Struck {
		if s.Was.ID == id {
			return s, true
		}
	}
	return Struck{}, false
}

package process

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// StrikeFreely is how long after it was typed a command may be taken back without a
// reason: long enough to see that the thumb was on the wrong button (proposal).
const StrikeFreely = time.Minute

// sameTurn is how close two turns of the same slabs are one that two people entered:
// nobody turns a slab twice in it (proposal).
const sameTurn = 2 * time.Minute

// notStruck says what to do about what cannot be struck out.
var notStruck = map[CommandKind]string{
	CommandDosed:       "log what was weighed again and say why: flitch batch dosed ... --text \"typed wrongly\"",
	CommandCost:        "enter the amount anew: the newest of each kind holds",
	CommandAction:      "write another about the same: the newest text of a part holds",
	CommandDisposition: "say what becomes of it now: the newest holds",
	CommandReviewed:    "write a note: it stands after the review",
	CommandNew:         "close the batch and say why, and begin another",
}

// checkStrike refuses what cannot be taken back or corrected so.
func (b *Batch) checkStrike(c Command, now time.Time) error {
	if c.Kind == CommandStruck && c.Strikes == "" {
		return refuse("nothing is named to take back", "list what was entered with: flitch batch show "+b.ID)
	}
	if s, ok := b.StruckOut(c.Strikes); ok {
		return alreadyStruck(s, c)
	}
	old, ok := b.Entered(c.Strikes)
	switch {
	case !ok:
		return &Refusal{What: fmt.Sprintf("nothing that counts in batch %s was entered under %q", b.ID, c.Strikes),
			Hint: "list what was entered with: flitch batch show " + b.ID, NotFound: true}
	case old.ID == b.Stages[0].ID:
		return refuse("the start of a batch is not struck out", notStruck[CommandNew])
	case notStruck[old.Kind] != "":
		return refuse(fmt.Sprintf("a line %q is not struck out", old.Kind), notStruck[old.Kind])
	case c.Kind != CommandStruck && c.Kind != old.Kind:
		return refuse(fmt.Sprintf("a line %q cannot stand in the place of a line %q", c.Kind, old.Kind), "strike the old one out, and enter the other by itself")
	}
	if err := CheckWhy(old, c, now); err != nil {
		return err
	}
	if old.Kind == CommandStage {
		return b.checkStageStruck(c)
	}
	return nil
}

// alreadyStruck tells the second of two people. One who wants something in its place has
// not got that.
func alreadyStruck(s Struck, c Command) error {
	no := &Refusal{What: fmt.Sprintf("%s struck that out at %s", s.By, s.At.Format(time.RFC3339)), Hint: "enter it anew if it was right"}
	if s.Instead {
		no.Hint = "correct what stands in its place: " + s.ID
	}
	if c.Kind == CommandStruck {
		no.Already = &Entered{ID: s.ID, Kind: CommandStruck, By: s.By, At: s.At, Typed: s.At}
	}
	return no
}

// CheckWhy asks for a reason when what c strikes out was typed more than StrikeFreely ago.
func CheckWhy(old Entered, c Command, now time.Time) error {
	switch {
	case len(c.Why) > maxText:
		return refuse(fmt.Sprintf("the reason has %d characters", len(c.Why)), fmt.Sprintf("keep it under %d", maxText))
	case strings.TrimSpace(c.Why) == "" && now.Sub(old.Typed) > StrikeFreely:
		return refuse("it was entered more than a minute ago", "say why it is struck out: --why \"wrong batch\"")
	}
	return nil
}

// checkStageStruck refuses a strike after which the stages would not follow each other
// as the plan has them.
func (b *Batch) checkStageStruck(c Command) error {
	i := slices.IndexFunc(b.Stages, func(e StageEntry) bool { return e.ID == c.Strikes })
	left := *b // shallow: only its stages are another list
	left.Stages = slices.Clone(b.Stages[:i])
	if c.Kind == CommandStage {
		if err := left.checkStage(c); err != nil {
			return err
		}
		left.Stages = append(left.Stages, StageEntry{Name: c.Stage, Entered: c.At})
	}
	if i+1 == len(b.Stages) {
		return nil
	}
	switch after := b.Stages[i+1]; {
	case after.Entered.Before(left.StageEntered()):
		return refuse(fmt.Sprintf("stage %s was entered at %s, before the time you named", after.Name, after.Entered.Format(time.RFC3339)), "name an earlier time")
	case !slices.Contains(left.NextStages(), after.Name):
		return refuse(fmt.Sprintf("stage %s was entered after it, and does not come after %s", after.Name, left.Stage().Name), "strike out "+string(after.Name)+" first")
	}
	return nil
}

// sameStage tells the second of two people who press the same button of a stage.
func (b *Batch) sameStage(c Command) error {
	e := b.Stages[len(b.Stages)-1]
	if c.Strikes != "" || c.Stage != e.Name || len(b.Stages) == 1 {
		return nil
	}
	if c.At.Before(e.Entered) {
		return refuse(fmt.Sprintf("stage %s was entered by %s at %s", e.Name, e.By, e.Entered.Format(time.RFC3339)),
			fmt.Sprintf("to give it another time: flitch batch stage %s %s --at TIME --instead-of %s", b.ID, e.Name, e.ID))
	}
	return already(Entered{e.ID, CommandStage, e.By, e.Entered, e.Typed})
}

// sameTurn tells the second of two people who enter one turn.
func (b *Batch) sameTurn(c Command) error {
	for _, t := range b.Turns {
		apart := c.At.Sub(t.At).Abs()
		if t.ID != c.Strikes && apart < sameTurn && t.coversAll(c.Pieces) {
			return already(t.entered())
		}
	}
	return nil
}

func (t Turn) coversAll(pieces []string) bool {
	if len(t.Pieces) == 0 {
		return true
	}
	return len(pieces) > 0 && !slices.ContainsFunc(pieces, func(p string) bool { return !t.covers(p) })
}

func already(e Entered) error {
	return &Refusal{What: fmt.Sprintf("%s entered that at %s", e.By, e.Typed.Format(time.RFC3339)), Hint: "one entry stands", Already: &e}
}

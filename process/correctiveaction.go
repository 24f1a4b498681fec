package process

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

// Blank stands in a ready text for what only a person knows.
const Blank = "__"

// An ActionSaid is a corrective action as a person wrote it: the four parts of 9 CFR
// 417.3(a), in its order. A part may be empty, and the action is then not complete.
type ActionSaid struct {
	About      string `json:"about"`                // a line of the catalogue ("C2"), an alarm ("17"), a clock ("out-of-cold"), "dose of A", or a piece
	Cause      string `json:"cause,omitempty"`      // what it was, and that it is removed
	Control    string `json:"control,omitempty"`    // how the critical point is under control again
	Prevention string `json:"prevention,omitempty"` // what keeps it from coming again
	Product    string `json:"product,omitempty"`    // what becomes of the product, so that nothing harmful is sold
}

// An ActionPart is one of the four parts, with its name in the record.
type ActionPart struct{ Name, Text string }

// Parts are the four parts in the order of the rule.
func (a ActionSaid) Parts() []ActionPart {
	return []ActionPart{{"cause", a.Cause}, {"under control", a.Control}, {"prevention", a.Prevention}, {"product", a.Product}}
}

// Missing are the names of the parts that are empty or have a blank left in them.
func (a ActionSaid) Missing() (names []string) {
	for _, p := range a.Parts() {
		if strings.TrimSpace(p.Text) == "" || strings.Contains(p.Text, Blank) {
			names = append(names, p.Name)
		}
	}
	return names
}

// An ActionEntry is a corrective action as it was entered.
type ActionEntry struct {
	ID    string    `json:"id"`    // of its command
	At    time.Time `json:"at"`    // when it was done, by the person's word
	Typed time.Time `json:"typed"` // by the daemon's clock
	By    string    `json:"by"`
	ActionSaid
}

// catalogueLine is how the lines of the alarm catalogue are called, and alarmNumber how
// alarms are.
var (
	catalogueLine = regexp.MustCompile(`^[A-Z][0-9]{1,2}[a-z]?$`)
	alarmNumber   = regexp.MustCompile(`^[0-9]{1,15}$`)
)

// NamesLine reports whether what an action is about is called as a line of the alarm
// catalogue is, and is none of the pieces.
func (b *Batch) NamesLine(about string) bool {
	return catalogueLine.MatchString(about) && !b.hasPiece(about)
}

// checkAction refuses an action that is about nothing, or says nothing.
func (b *Batch) checkAction(c Command) error {
	if c.Action == nil {
		return refuse("a corrective action without its text", "say what it is about, and the cause, how it is under control, the prevention and the product")
	}
	if !b.canBeAbout(c.Action.About) {
		return refuse(fmt.Sprintf("batch %s has no %q that an action could be about", b.ID, c.Action.About),
			"name a line of the catalogue (C2), the number of an alarm, a clock (out-of-cold), a deviation of the batch, or one of the pieces "+b.pieceList())
	}
	if len(c.Action.Missing()) == len(c.Action.Parts()) && c.Action.Cause+c.Action.Control+c.Action.Prevention+c.Action.Product == "" {
		return refuse("the corrective action is empty", "write at least the cause; the rest may follow in another one")
	}
	for _, p := range c.Action.Parts() {
		if len(p.Text) > maxText {
			return refuse(fmt.Sprintf("the part %q has %d characters", p.Name, len(p.Text)), fmt.Sprintf("keep it under %d", maxText))
		}
	}
	return nil
}

func (b *Batch) canBeAbout(about string) bool {
	if b.NamesLine(about) || alarmNumber.MatchString(about) || b.hasPiece(about) {
		return true
	}
	return slices.ContainsFunc(b.Clocks(b.Now), func(c Clock) bool { return string(c.Name) == about }) ||
		slices.ContainsFunc(b.Deviations(b.Now), func(d Deviation) bool { return d.Name == about })
}

func (b *Batch) actionTaken(c Command) {
	b.Actions = append(b.Actions, ActionEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, ActionSaid: *c.Action})
	slices.SortStableFunc(b.Actions, func(a, b ActionEntry) int { return a.Typed.Compare(b.Typed) })
}

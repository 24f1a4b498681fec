package alerts

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// CheckCatalogue reports everything that is wrong with a catalogue: an entry
// without an action, a deadband that would start an alarm, a cause that hides
// its own cause.
func CheckCatalogue(entries []Entry) error {
	var problems []error
	byID := make(map[string]Entry, len(entries))
	for _, e := range entries {
		if _, double := byID[e.ID]; double {
			problems = append(problems, fmt.Errorf("%s: two entries have this ID", e.ID))
		}
		byID[e.ID] = e
	}
	for _, e := range entries {
		for _, p := range append(e.check(), e.checkCauses(byID)...) {
			problems = append(problems, fmt.Errorf("%s: %s", e.ID, p))
		}
	}
	return errors.Join(problems...)
}

// check returns what is wrong with one entry by itself.
func (e Entry) check() (problems []string) {
	for _, word := range []struct{ name, text string }{
		{"ID", e.ID}, {"title", e.Title}, {"measure", e.Measure}, {"wording", e.Says}, {"action", e.Action}, {"source", e.Source},
	} {
		if strings.TrimSpace(word.text) == "" {
			problems = append(problems, "no "+word.name)
		}
	}
	for _, words := range e.allWords() {
		if strings.ContainsAny(unfilled(words), "{}") {
			problems = append(problems, "the wording has a blank that nothing fills: "+words)
		}
	}
	if e.Hour < 0 || e.Hour >= 24*time.Hour {
		problems = append(problems, "its hour is no time of day")
	}
	if e.Repeat < 0 || e.ReAlarm < 0 || e.Clear.For < 0 {
		problems = append(problems, "a time is negative")
	}
	if len(e.Triggers) == 0 {
		return append(problems, "no trigger")
	}
	for i, t := range e.Triggers {
		problems = append(problems, e.checkTrigger(i, t)...)
	}
	return problems
}

// allWords are all that an entry may say of a value.
func (e Entry) allWords() []string {
	all := []string{e.Says, e.SaysNever, e.Worst}
	for _, t := range e.Triggers {
		all = append(all, t.Says)
	}
	return all
}

func (e Entry) checkTrigger(i int, t Trigger) (problems []string) {
	say := func(text string) { problems = append(problems, fmt.Sprintf("trigger %d: %s", i+1, text)) }
	if t.Level < Note || t.Level > Ring {
		say("no level")
	}
	if t.Below != e.Triggers[0].Below {
		say("looks the other way than the first")
	}
	if t.For < 0 || t.Sum < 0 || t.Sum > 0 && (t.For == 0 || t.Window < t.Sum) {
		say("a sum needs an on-delay beside it and a window that can hold it")
	}
	if summed := slices.ContainsFunc(e.Triggers, func(t Trigger) bool { return t.Sum > 0 }); summed && t.Level != e.Triggers[0].Level {
		// What has rung counts less. With a milder trigger beside it, which may be
		// cleared first, a longer delay could then ring more than a shorter one.
		say("a sum beside a trigger of another level")
	}
	if !e.Clear.Never && t.beyond(e.Clear.Limit) {
		say("the clear limit is beyond the limit, so that it would start what it should end")
	}
	return problems
}

// checkCauses follows the causes that hide e. Hidden entries must repeat, or
// nobody would hear of them once the cause is gone.
func (e Entry) checkCauses(byID map[string]Entry) (problems []string) {
	if len(e.HidesBehind) > 0 && e.Repeat == 0 {
		problems = append(problems, "hides behind another but never repeats")
	}
	for _, cause := range e.HidesBehind {
		if _, known := byID[cause]; !known {
			problems = append(problems, "hides behind unknown "+cause)
		}
	}
	if e.reaches(e.ID, byID, len(byID)) {
		problems = append(problems, "hides behind itself in a circle")
	}
	return problems
}

// reaches reports whether id is among the causes of e, at most depth steps away.
func (e Entry) reaches(id string, byID map[string]Entry, depth int) bool {
	if depth == 0 {
		return false
	}
	for _, cause := range e.HidesBehind {
		if cause == id || byID[cause].reaches(id, byID, depth-1) {
			return true
		}
	}
	return false
}

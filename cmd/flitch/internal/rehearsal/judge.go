package rehearsal

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/scenario"
)

// fewWords is how much of what there was instead is told.
const fewWords = 4

// judge looks at each expectation, and at what was typed and not taken: that nobody
// expected to be refused.
func (r *rehearsal) judge(report *Report) []Outcome {
	var out []Outcome
	expected, lines := r.scenario.Expectations()
	for i, e := range expected {
		met, why := false, ""
		if unknown := r.unknown(e); len(unknown) > 0 {
			why = "there is no alarm " + strings.Join(unknown, " or ") + " in the catalogue"
		} else {
			met, why = r.met(e, report)
		}
		text := strings.TrimPrefix(r.scenario.Text(e), "expect ")
		out = append(out, Outcome{lines[i], text, met, why})
	}
	for _, no := range r.refused {
		foreseen := slices.ContainsFunc(expected, func(e scenario.Expectation) bool {
			return e.Kind == scenario.ExpectRefused && !e.Not && r.within(e, no.at)
		})
		if !foreseen {
			out = append(out, Outcome{no.line, no.what + " is taken", false, no.why})
		}
	}
	return out
}

// unknown are the alarms that the catalogue does not have: one that cannot ring is
// never what somebody expects.
func (r *rehearsal) unknown(e scenario.Expectation) (names []string) {
	asked := e.Names
	if e.Kind == scenario.ExpectAlarm || e.Kind == scenario.ExpectFolded || e.Kind == scenario.ExpectSummary {
		asked = []string{e.Name}
	}
	for _, name := range asked {
		if !slices.ContainsFunc(r.catalogue, func(c alerts.Entry) bool { return c.ID == name }) {
			names = append(names, name)
		}
	}
	return names
}

func (r *rehearsal) within(e scenario.Expectation, at time.Time) bool {
	return !e.Ranged || !at.Before(r.scenario.At(e.From)) && !at.After(r.scenario.At(e.To))
}

func (r *rehearsal) met(e scenario.Expectation, report *Report) (met bool, why string) {
	switch e.Kind {
	case scenario.ExpectAlarm:
		return r.alarm(e)
	case scenario.ExpectLevel:
		return r.nothing(e)
	case scenario.ExpectOnly:
		return r.only(e)
	case scenario.ExpectFolded:
		return r.folded(e)
	case scenario.ExpectSummary:
		return r.summary(e)
	case scenario.ExpectRefused:
		return r.refusal(e)
	case scenario.ExpectClock:
		return clock(e, report.Clocks)
	case scenario.ExpectVerdict:
		return report.Verdict == e.Verdict, fmt.Sprintf("the batch is %s", word(report.Verdict))
	case scenario.ExpectHappening:
		return r.happening(e, report.Happenings)
	}
	return false, "nobody knows what that is"
}

func (r *rehearsal) alarm(e scenario.Expectation) (bool, string) {
	var all []string
	found := false
	for _, a := range r.reached {
		if a.entry != e.Name {
			continue
		}
		all = append(all, fmt.Sprintf("%s at %s", a.level, r.stamp(a.at)))
		found = found || r.within(e, a.at) && (e.Level == "" || e.Level == a.level.String())
	}
	why := e.Name + " was not raised"
	if len(all) > 0 {
		why = e.Name + ": " + strings.Join(all[:min(len(all), fewWords)], ", ")
	}
	return found != e.Not, why
}

// loud are the messages at a level or above that want somebody to act.
func (r *rehearsal) loud(e scenario.Expectation) (list []Ring) {
	for _, ring := range r.rings {
		if ring.asks() && ring.level >= levelOf(e.Level) && r.within(e, ring.At) {
			list = append(list, ring)
		}
	}
	return list
}

func levelOf(text string) alerts.Level {
	for _, l := range []alerts.Level{alerts.Ring, alerts.Tell} {
		if l.String() == text {
			return l
		}
	}
	return alerts.Note
}

func (r *rehearsal) nothing(e scenario.Expectation) (bool, string) {
	if levelOf(e.Level) == alerts.Note {
		for _, a := range r.reached {
			if r.within(e, a.at) {
				return false, fmt.Sprintf("%s: %s at %s", a.entry, a.level, r.stamp(a.at))
			}
		}
		return true, ""
	}
	return r.noneOf(r.loud(e))
}

func (r *rehearsal) only(e scenario.Expectation) (bool, string) {
	return r.noneOf(slices.DeleteFunc(r.loud(e), func(ring Ring) bool { return slices.Contains(e.Names, ring.Entry) }))
}

func (r *rehearsal) noneOf(rings []Ring) (bool, string) {
	if len(rings) == 0 {
		return true, ""
	}
	return false, fmt.Sprintf("%s at %s: %s", rings[0].Entry, r.stamp(rings[0].At), rings[0].First)
}

func (r *rehearsal) folded(e scenario.Expectation) (bool, string) {
	raised := false
	for _, a := range r.reached {
		if a.entry != e.Name || !r.within(e, a.at) {
			continue
		}
		raised = true
		for _, ring := range r.rings {
			if ring.Alarm == a.number && ring.asks() {
				return false, fmt.Sprintf("%s was told at %s", e.Name, r.stamp(ring.At))
			}
		}
	}
	if !raised {
		return false, e.Name + " was not raised"
	}
	return true, ""
}

// summary looks for the alarm among the lines of the messages that stand for several.
func (r *rehearsal) summary(e scenario.Expectation) (bool, string) {
	title := r.catalogue[slices.IndexFunc(r.catalogue, func(c alerts.Entry) bool { return c.ID == e.Name })].Title
	why := "there was no summary"
	for _, ring := range r.rings {
		if ring.Kind != alerts.Digest || !r.within(e, ring.At) {
			continue
		}
		if strings.HasPrefix(ring.body, title+",") || strings.Contains(ring.body, "\n"+title+",") {
			return !e.Not, fmt.Sprintf("%s at %s", e.Name, r.stamp(ring.At))
		}
		why = fmt.Sprintf("the summary at %s does not name %s", r.stamp(ring.At), e.Name)
	}
	return e.Not, why
}

func (r *rehearsal) refusal(e scenario.Expectation) (bool, string) {
	for _, no := range r.refused {
		if r.within(e, no.at) {
			return !e.Not, fmt.Sprintf("%s at %s: %s", no.what, r.stamp(no.at), no.why)
		}
	}
	return e.Not, "everything was taken"
}

func clock(e scenario.Expectation, clocks []process.Clock) (bool, string) {
	var names []string
	for _, c := range clocks {
		if string(c.Name) == e.Name {
			return c.Verdict == e.Verdict, fmt.Sprintf("%s: %s (%.2f of %.2f %s) %s", c.Name, word(c.Verdict), c.Sum, c.Limit, c.Unit, strings.Join(c.Uncertain, "; "))
		}
		names = append(names, string(c.Name))
	}
	return false, fmt.Sprintf("there is no clock %q: %s", e.Name, strings.Join(names, ", "))
}

func (r *rehearsal) happening(e scenario.Expectation, list []process.Happening) (bool, string) {
	var names []string
	for _, h := range list {
		if h.Name == e.Name && r.within(e, h.From) {
			return !e.Not, fmt.Sprintf("%s at %s, seen %s", h.Name, r.stamp(h.From), r.stamp(h.Detected))
		}
		names = append(names, h.Name+" at "+r.stamp(h.From))
	}
	if len(names) == 0 {
		return e.Not, "nothing happened"
	}
	return e.Not, "there was " + strings.Join(names[:min(len(names), fewWords)], ", ")
}

func word(v process.Verdict) string {
	if v == process.Running {
		return "running"
	}
	return string(v)
}

// stamp is a time on the clock of the scenario, as it is written in one.
func (r *rehearsal) stamp(at time.Time) string {
	return r.scenario.Stamp(at)
}

package process

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// CheckLimitK is how far a probe may be off at its check: 2 °F, as an ice bath that
// reads from 30 to 34 °F is accepted in the thermometer procedures of small plants.
const CheckLimitK = 2 / 1.8

const (
	maxChecks = 24  // kept of one probe: two years of months
	maxServed = 100 // batches kept by name since the last good check
)

// The ways to check a probe.
const (
	CheckIce     = "ice"     // ice water, 0 °C
	CheckBoiling = "boiling" // boiling water at the pressure of the place
	CheckCompare = "compare" // beside a thermometer that is trusted
)

// A CheckSaid is a check of a probe as a person said it.
type CheckSaid struct {
	Probe  string  `json:"probe"`
	Method string  `json:"method"`
	ReadC  float64 `json:"read_c"` // what the probe said, °C
	TrueC  float64 `json:"true_c"` // what it was, °C; of ice 0
}

// A ProbeCheck is one check of a probe, and the answer.
type ProbeCheck struct {
	CheckSaid
	At    time.Time `json:"at"`
	Typed time.Time `json:"typed"`
	By    string    `json:"by"`
	Text  string    `json:"text,omitempty"`
}

// OffK is by how much the probe read too high.
func (c CheckSaid) OffK() float64 { return c.ReadC - c.TrueC }

// Good reports whether the probe is within CheckLimitK.
func (c CheckSaid) Good() bool { return math.Abs(c.OffK()) <= CheckLimitK+1e-9 }

// Words is the check in words, in °C and K.
func (c CheckSaid) Words() string {
	return c.WordsIn(func(c float64) string { return fmt.Sprintf("%.1f °C", c) }, func(k float64) string { return fmt.Sprintf("%.1f K", k) })
}

// WordsIn is the check in words, with temperatures (°C) and differences (K) as the reader
// has them.
func (c CheckSaid) WordsIn(temperature, difference func(float64) string) string {
	where := map[string]string{CheckIce: "in ice", CheckBoiling: "in boiling water", CheckCompare: "beside a thermometer"}[c.Method]
	verdict := "within"
	if !c.Good() {
		verdict = "out of use, not within"
	}
	return fmt.Sprintf("read %s %s, where it was %s: %s %s", temperature(c.ReadC), where, temperature(c.TrueC), verdict, difference(CheckLimitK))
}

// CheckOfProbe refuses a check that cannot be true.
func CheckOfProbe(c Command, now time.Time) error {
	said := c.Check
	switch {
	case strings.TrimSpace(c.By) == "":
		return refuse("nobody signed", "add your initials: --by T.V.")
	case said == nil || said.Probe == "":
		return refuse("a check without its probe", "flitch probe checked alder-bottle --ice 0.3C")
	case c.At.After(now.Add(ahead)):
		return refuse(fmt.Sprintf("%s has not happened yet", c.At.Format(time.RFC3339)), "name a time that has passed, or leave it out for now")
	case !slices.Contains([]string{CheckIce, CheckBoiling, CheckCompare}, said.Method):
		return refuse(fmt.Sprintf("%q is no way to check a probe", said.Method), "say ice, boiling or compare")
	case said.Method == CheckIce && said.TrueC != 0:
		return refuse(fmt.Sprintf("ice water is at 0 °C, not at %g °C", said.TrueC), "compare it with a thermometer instead")
	case !(said.ReadC >= -60 && said.ReadC <= 400) || !(said.TrueC >= -60 && said.TrueC <= 400):
		return refuse(fmt.Sprintf("%g °C read and %g °C true cannot be", said.ReadC, said.TrueC), "type what it read with its unit: 0.3C or 32.5F")
	case len(c.Text) > maxText:
		return refuse(fmt.Sprintf("the text has %d characters", len(c.Text)), fmt.Sprintf("keep it under %d", maxText))
	}
	return nil
}

// command takes what a person said of the probes of the place.
func (p *Place) command(c Command, found []Finding) []Finding {
	switch {
	case c.Kind == CommandChecked && c.Check != nil:
		if t := p.Probe(c.Check.Probe); t != nil {
			t.checked(c)
			found = p.findCheck(t, found)
		}
	case c.Kind == CommandVital && c.Vital != nil:
		if t := p.Probe(c.Vital.Probe); t != nil {
			t.tell(*c.Vital, c.At)
			found = p.findVital(*c.Vital, c.At, found)
		}
	case c.Kind == CommandSensor && c.Sensor != nil:
		found = p.say(*c.Sensor, c.At, found)
	case c.Kind == CommandNew && c.New != nil:
		for i := range p.Probes {
			p.Probes[i].serve(c.Batch, c.New.Probes)
		}
	}
	return found
}

// checked keeps a check in the order they happened.
func (t *PlaceProbe) checked(c Command) {
	k := ProbeCheck{CheckSaid: *c.Check, At: c.At, Typed: c.Typed, By: c.By, Text: c.Text}
	at := len(t.Checks)
	for at > 0 && t.Checks[at-1].At.After(k.At) {
		at--
	}
	t.Checks = slices.Insert(t.Checks, at, k)
	t.Checks = t.Checks[max(0, len(t.Checks)-maxChecks):]
}

// Trust drops, after a good check, the batches that were over before it: what they were
// measured with is known to have been good.
func (p *Place) Trust(probe string, open func(batch string) bool) {
	if t := p.Probe(probe); t != nil && t.Failed() == nil {
		t.Served = slices.DeleteFunc(t.Served, func(batch string) bool { return !open(batch) })
	}
}

// Probe is what the place knows of a probe. Nil: it is not one of its probes.
func (p *Place) Probe(name string) *PlaceProbe {
	for i := range p.Probes {
		if p.Probes[i].Probe.Probe == name {
			return &p.Probes[i]
		}
	}
	return nil
}

// serve notes that a batch is measured with the probe.
func (t *PlaceProbe) serve(batch string, probes []PlacedProbe) {
	used := slices.ContainsFunc(probes, func(p PlacedProbe) bool { return p.Probe == t.Probe.Probe })
	if used && !slices.Contains(t.Served, batch) {
		t.Served = append(t.Served, batch)
		t.Served = t.Served[max(0, len(t.Served)-maxServed):]
	}
}

// Checked is when the probe was last checked; zero: never.
func (t *PlaceProbe) Checked() time.Time {
	if n := len(t.Checks); n > 0 {
		return t.Checks[n-1].At
	}
	return time.Time{}
}

// LastGood is the newest good check at or before a time. Nil: there is none.
func (t *PlaceProbe) LastGood(at time.Time) *ProbeCheck {
	for i := len(t.Checks) - 1; i >= 0; i-- {
		if c := &t.Checks[i]; c.Good() && !c.At.After(at) {
			return c
		}
	}
	return nil
}

// Failed is the newest check, if the probe failed it. Nil: it is in use.
func (t *PlaceProbe) Failed() *ProbeCheck {
	if n := len(t.Checks); n > 0 && !t.Checks[n-1].Good() {
		return &t.Checks[n-1]
	}
	return nil
}

// InDoubt is the failed check that puts what the probe read in a span of time in doubt:
// all since the good check before it, and all until the next good one. Nil: none does.
func (t *PlaceProbe) InDoubt(from, to time.Time) *ProbeCheck {
	var bad *ProbeCheck
	good := time.Time{}
	for i := range t.Checks {
		c := &t.Checks[i]
		switch {
		case !c.Good() && bad == nil:
			bad = c
		case !c.Good():
		case bad != nil && good.Before(to) && from.Before(c.At):
			return bad
		default:
			good, bad = c.At, nil
		}
	}
	if !good.Before(to) {
		return nil
	}
	return bad
}

// Due is when the probe is to be checked next; zero when it is never asked for.
func (t *PlaceProbe) Due() time.Time {
	if t.Probe.CheckEvery == 0 || t.First.IsZero() {
		return time.Time{}
	}
	if at := t.Checked(); !at.IsZero() {
		return at.Add(t.Probe.CheckEvery)
	}
	return t.First.Add(t.Probe.CheckEvery)
}

// CheckFailed is the value of MeasureCheck for a probe that failed its check.
const CheckFailed = 10_000.0

// findCheck reports the days a probe is past its check; negative before.
func (p *Place) findCheck(t *PlaceProbe, found []Finding) []Finding {
	f := Finding{Measure: MeasureCheck, Subject: "probe " + t.Probe.Probe + " of " + p.Subject(), At: p.Now}
	switch due := t.Due(); {
	case t.Failed() != nil:
		f.Value = CheckFailed
	case !t.heard(p.Now):
		f.State = Over // put away: it is asked for again when it speaks
	case !due.IsZero():
		f.Value = p.Now.Sub(due).Hours() / 24
	case len(t.Checks) > 0:
		f.Value = -1 // checked, and not asked for again
	default:
		return found
	}
	return append(found, f)
}

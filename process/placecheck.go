package process

import (
	"slices"
	"time"
)

const (
	maxChecks = 24  // kept of one probe: two years of months
	maxServed = 100 // batches kept by name since the last good check
)

// command takes what a person said of the probes of the place.
func (p *Place) command(c Command, found []Finding) []Finding {
	switch {
	case c.Kind == CommandChecked && c.Check != nil:
		if t := p.Probe(c.Check.Probe); t != nil {
			t.checked(c)
			if t.Failed() == nil {
				for i := range p.Pairs {
					p.Pairs[i].checked(c.Check.Probe)
				}
			}
			found = p.findCheck(t, found)
		}
	case c.Kind == CommandVital && c.Vital != nil:
		if t := p.Probe(c.Vital.Probe); t != nil {
			t.tell(*c.Vital, c.At)
			found = p.findVital(*c.Vital, c.At, found)
		}
	case c.Kind == CommandSensor && c.Sensor != nil:
		found = p.say(*c.Sensor, c.At, found)
	case c.Kind == CommandFault && c.Clock != nil:
		p.clockSaid(*c.Clock)
	case c.Kind == CommandUnit && c.Unit != nil:
		if t := p.Probe(c.Unit.Probe); t != nil {
			t.Sieve.answer(c)
			found = p.findUnit(t, found)
		}
	case c.Kind == CommandNew && c.New != nil:
		for i := range p.Probes {
			p.Probes[i].serve(c.Batch, c.New.Probes)
		}
	}
	return found
}

// checked keeps a check in the order they happened.
func (t *PlaceProbe) checked(c Command) {
	t.Checks = insertCheck(t.Checks, c)
	t.Checks = t.Checks[max(0, len(t.Checks)-maxChecks):]
}

// ChecksOf are all checks of a probe among what was said, in the order they happened.
func ChecksOf(said []Input, probe string) (checks []ProbeCheck) {
	for _, in := range said {
		if c := in.Command; c.Kind == CommandChecked && c.Check != nil && c.Check.Probe == probe {
			checks = insertCheck(checks, c)
		}
	}
	return checks
}

// Judge fills in what a check at a time comes to: the correction before and after it, and
// which batches were measured since the last good one when the probe was found off.
func (t *PlaceProbe) Judge(said CheckSaid, at time.Time) CheckSaid {
	before := Correction{}
	if c := inForce(t.Checks, at); c != nil {
		before = c.After()
	}
	points := said.Points()
	for i := range points {
		if said.AsSent {
			points[i].ReadC = before.Of(points[i].ReadC)
		}
	}
	said.ReadC, said.TrueC, said.Further, said.AsSent = points[0].ReadC, points[0].TrueC, points[1:], false
	r := said.judge(before)
	if said.FoundOff() || r.Fails != "" {
		r.Batches = slices.Clone(t.Served)
	}
	if said.Correct && r.Fails == "" {
		r.Adjusted = 1
		if n := len(t.Checks); n > 0 && !said.Replaced {
			r.Adjusted += t.Checks[n-1].result().Adjusted
		}
	}
	said.Result = &r
	return said
}

// ChecksSince are the check in force at a time and those after it, for a batch that
// begins then.
func (t *PlaceProbe) ChecksSince(at time.Time) []ProbeCheck { return since(t.Checks, at) }

// InForce is the correction that the probe's readings are given now.
func (t *PlaceProbe) InForce() Correction {
	if n := len(t.Checks); n > 0 {
		return t.Checks[n-1].After()
	}
	return Correction{}
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

// InDoubt is the check that puts what the probe read in a span of time in doubt: found
// off, it does so to all since the good check before it, and all until the next good one,
// which it is itself when the probe was corrected. Nil: none does.
func (t *PlaceProbe) InDoubt(from, to time.Time) *ProbeCheck {
	var bad *ProbeCheck
	good := time.Time{}
	for i := range t.Checks {
		c := &t.Checks[i]
		if bad == nil && (!c.Good() || c.FoundOff()) {
			bad = c
		}
		if !c.Good() {
			continue
		}
		if bad != nil && good.Before(to) && from.Before(c.At) {
			return bad
		}
		good, bad = c.At, nil
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
	case !t.heard(p.Now) && p.Now.Sub(t.Checked()) > t.Probe.allowed():
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

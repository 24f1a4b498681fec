package process

import (
	"slices"
	"time"
)

// OutOfUse is the reason of a reading of a probe that failed its check.
const OutOfUse = "the probe is out of use: it failed its check"

// inForce is the newest check at or before a time. Nil: there is none.
func inForce(checks []ProbeCheck, at time.Time) *ProbeCheck {
	for i := len(checks) - 1; i >= 0; i-- {
		if !checks[i].At.After(at) {
			return &checks[i]
		}
	}
	return nil
}

// since are the check in force at a time and those after it.
func since(checks []ProbeCheck, at time.Time) []ProbeCheck {
	for i := len(checks) - 1; i >= 0; i-- {
		if !checks[i].At.After(at) {
			return slices.Clone(checks[i:])
		}
	}
	return slices.Clone(checks)
}

// Calibrated is a reading as the checks of its probe have it, in the order they
// happened: corrected by the one in force when it was measured, and bad while the probe
// is out of use. What is stored stays as it was sent.
func Calibrated(checks []ProbeCheck, r Reading) Reading {
	c := inForce(checks, r.Measured)
	switch {
	case c == nil || r.Quality == Bad:
	case !c.Good():
		r.Quality, r.Reason = Bad, OutOfUse
	default:
		r.Value = c.After().Of(r.Value)
	}
	return r
}

// calibrated is a believed sample with the correction in force when it was measured.
func calibrated(checks []ProbeCheck, s Sample) Sample {
	if c := inForce(checks, s.At); c != nil && c.Good() {
		s.Value = c.After().Of(s.Value)
	}
	return s
}

// insertCheck keeps the checks in the order they happened.
func insertCheck(checks []ProbeCheck, c Command) []ProbeCheck {
	at := len(checks)
	for at > 0 && checks[at-1].At.After(c.At) {
		at--
	}
	k := ProbeCheck{CheckSaid: *c.Check, At: c.At, Typed: c.Typed, By: c.By, Text: c.Text}
	return slices.Insert(checks, at, k)
}

// uncertainty is that of a probe after its newest check, K.
func uncertainty(configured float64, checks []ProbeCheck) float64 {
	if n := len(checks); n > 0 {
		return checks[n-1].uncertainty(configured)
	}
	return configured
}

// OutOfUse reports whether the probe failed its newest check.
func (t *Track) OutOfUse() bool {
	n := len(t.Checks)
	return n > 0 && !t.Checks[n-1].Good()
}

// Uncertainty is how far off the probe may be, K: as configured, or as its newest check
// showed.
func (t *Track) Uncertainty() float64 { return uncertainty(t.Probe.Uncertainty, t.Checks) }

// Uncertainty is how far off the probe may be, K.
func (t *PlaceProbe) Uncertainty() float64 { return uncertainty(t.Probe.Uncertainty, t.Checks) }

// checkedProbe takes the check of a probe that measures the batch. A check that was
// typed late changes what was counted since.
func (b *Batch) checkedProbe(c Command) {
	t := b.track(c.Check.Probe)
	if t == nil {
		return
	}
	t.Checks = insertCheck(t.Checks, c)
	for _, heard := range []time.Time{t.Heard, t.Last.At, t.Sieve.Newest.At, t.Sieve.Held.At} {
		if !heard.Before(c.At) && t.Samples+t.Bad > 0 {
			b.NeedsRecount = true
		}
	}
}

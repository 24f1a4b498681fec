package process

import "slices"

// Copy is the place as it stands now: a step of the one leaves the other as it was. It is
// made by hand, because the page asks for all places at each look and two hundred probes
// are a big house.
func (p *Place) Copy() *Place {
	c := *p
	c.Probes = copies(p.Probes, PlaceProbe.copied)
	c.Pairs = copies(p.Pairs, Pair.copied)
	return &c
}

func (t PlaceProbe) copied() PlaceProbe {
	t.Probe.Checks = copies(t.Probe.Checks, ProbeCheck.copied)
	t.Probe.For = slices.Clone(t.Probe.For)
	t.Sieve.Unit.Turns = slices.Clone(t.Sieve.Unit.Turns)
	if t.Air != nil {
		air := *t.Air
		air.Minute.Values = slices.Clone(air.Minute.Values)
		t.Air = &air
	}
	t.Flagged = copies(t.Flagged, Flagged.copied)
	t.Checks = copies(t.Checks, ProbeCheck.copied)
	t.Vitals = slices.Clone(t.Vitals)
	t.Served = slices.Clone(t.Served)
	if t.Absent != nil {
		absent := *t.Absent
		t.Absent = &absent
	}
	return t
}

func (f Flagged) copied() Flagged {
	f.Spans = slices.Clone(f.Spans)
	return f
}

func (c ProbeCheck) copied() ProbeCheck {
	c.Further = slices.Clone(c.Further)
	if c.Result != nil {
		result := *c.Result
		result.Batches = slices.Clone(result.Batches)
		c.Result = &result
	}
	return c
}

func (p Pair) copied() Pair {
	p.Good = slices.Clone(p.Good)
	return p
}

func copies[T any](list []T, one func(T) T) []T {
	out := slices.Clone(list)
	for i := range out {
		out[i] = one(out[i])
	}
	return out
}

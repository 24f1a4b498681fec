package app

import (
	"context"
	"fmt"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/record"
)

// Probes implements api.Reader.
func (r *reader) Probes(context.Context) ([]api.Probe, error) {
	var out []api.Probe
	for _, p := range r.app.engine.Places() {
		for i := range p.Probes {
			t := &p.Probes[i]
			out = append(out, api.Probe{Probe: t.Probe.Probe, Place: p.Name, Placement: t.Probe.Placement, Heard: t.Last.At, Due: t.Due(),
				LastGood: t.LastGood(t.Checked()), Failed: t.Failed(), Batches: t.Served,
				SentC: t.Sent.Value, SentAt: t.Sent.At, ReadsC: t.InForce().Of(t.Sent.Value), Correction: t.InForce(), Uncertainty: t.Uncertainty(), Checks: t.Checks,
				Battery: t.Vital(process.VitalBattery), Signal: t.Vital(process.VitalSignal), Absent: t.Absent, Asks: t.Asks,
				Unit: t.Sieve.Unit, LeftOut: t.Flagged})
		}
	}
	return out, r.app.addRefusals(out)
}

// doubted are the clocks of a batch, with the doubt that failed checks of its probes
// cast on them.
func doubted(b *process.Batch, now time.Time, places []*process.Place, site record.Site) []process.Clock {
	clocks := b.Clocks(now)
	from, to := span(b, now)
	for _, t := range b.Tracks {
		p := probeIn(places, t.Probe.Probe)
		if p == nil || t.Samples == 0 {
			continue
		}
		for _, f := range flagged(b, t, places, now) {
			if record.InDoubt(f.Reason) {
				process.DoubtClocks(clocks, t.Probe.Placement, fmt.Sprintf("probe %s drifts apart from another of its kind (%s): ice bath for both", t.Probe.Probe, site.Times(f)))
			}
		}
		if bad := p.InDoubt(from, to); bad != nil {
			process.DoubtClocks(clocks, t.Probe.Placement, fmt.Sprintf("probe %s %s (%s, %s)", t.Probe.Probe, bad.Words(), site.Short(bad.At), bad.By))
		}
	}
	return clocks
}

// placesOf are the places as the record of a batch has to see them. Of a closed one the checks of its
// probes are those of the log, all of them: a place keeps what it needs, and a probe may have left the
// configuration, and papers of years ago stay what they are.
func (r *reader) placesOf(b *process.Batch) ([]*process.Place, error) {
	places := r.app.engine.Places()
	if b.Open() {
		return places, nil
	}
	said, err := r.app.db.Commands("")
	if err != nil {
		return nil, err
	}
	for _, t := range b.Tracks {
		p := probeIn(places, t.Probe.Probe)
		if p == nil {
			gone := process.NewPlace(t.Probe.Place, process.WhereRoom, []process.PlacedProbe{t.Probe}, b.Started)
			places, p = append(places, gone), &gone.Probes[0]
		}
		p.Checks = process.ChecksOf(said, t.Probe.Probe)
	}
	return places, nil
}

// checked fills in how the probes of a record were checked.
func (r *reader) checked(b *process.Batch, places []*process.Place, data []record.ProbeData) {
	_, to := span(b, r.now())
	for i := range data {
		if p := probeIn(places, data[i].Probe); p != nil {
			data[i].LastGood, data[i].Failed = p.LastGood(to), p.InDoubt(b.Started, to)
		}
		if i < len(b.Tracks) {
			data[i].LeftOut = flagged(b, b.Tracks[i], places, to)
		}
	}
}

// probeIn is a probe as its place knows it; nil when it is configured no more.
func probeIn(places []*process.Place, name string) *process.PlaceProbe {
	for _, p := range places {
		if t := p.Probe(name); t != nil {
			return t
		}
	}
	return nil
}

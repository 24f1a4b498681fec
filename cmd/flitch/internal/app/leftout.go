package app

import (
	"fmt"
	"math"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/record"
)

// leftOut is what of the probes of a batch did not count, or is in doubt. That two probes
// drift apart their place knows.
func leftOut(b *process.Batch, places []*process.Place, now time.Time) (out []record.LeftOut) {
	for _, t := range b.Tracks {
		for _, f := range flagged(b, t, places, now) {
			out = append(out, record.LeftOut{Probe: t.Probe.Probe, Placement: t.Probe.Placement, Flagged: f})
		}
	}
	return out
}

func flagged(b *process.Batch, t *process.Track, places []*process.Place, now time.Time) []process.Flagged {
	list := append([]process.Flagged(nil), t.Flagged...)
	p := probeIn(places, t.Probe.Probe)
	if p == nil {
		return list
	}
	from, to := span(b, now)
	for _, f := range p.Flagged {
		if part := during(f, from, to); record.InDoubt(f.Reason) && len(part.Spans) > 0 {
			list = append(list, part)
		}
	}
	return list
}

// during is what of it lies in a span of time. How many readings those were nobody
// counted, so a part of it has no number.
func during(f process.Flagged, from, to time.Time) process.Flagged {
	part := process.Flagged{Reason: f.Reason, Count: f.Count, Last: f.Last, Open: f.Open}
	for _, s := range f.Spans {
		if !s.To.Before(from) && !s.From.After(to) {
			part.Spans = append(part.Spans, s)
		}
	}
	if len(part.Spans) < len(f.Spans) {
		part.Count = 0
	}
	return part
}

// marked is a reading with the reason for which it did not count, if that was found by
// what came before or after it.
func marked(r record.Row, list []process.Flagged) record.Row {
	if r.Quality == process.Bad {
		return r
	}
	reason := process.FlaggedAt(list, r.Measured)
	if reason == "" {
		return r
	}
	r.Quality = process.Bad
	if record.InDoubt(reason) {
		r.Quality = process.Suspect
	}
	r.Reason = record.Reason(process.Flagged{Reason: reason})
	return r
}

// leftOut counts for the metrics: what the places left out, and what only a batch could
// tell to be wrong. The latter ends with the batch.
func (a *App) leftOut() []api.ProbeFlags {
	if a.engine == nil {
		return nil
	}
	counts := map[[2]string]int64{}
	for _, p := range a.engine.Places() {
		for i := range p.Probes {
			for _, f := range p.Probes[i].Flagged {
				counts[[2]string{p.Probes[i].Probe.Probe, f.Reason}] += f.Count
			}
		}
	}
	for _, b := range a.engine.Batches() {
		for _, t := range b.Tracks {
			for _, f := range t.Flagged {
				key := [2]string{t.Probe.Probe, f.Reason}
				counts[key] = max(counts[key], f.Count)
			}
		}
	}
	out := make([]api.ProbeFlags, 0, len(counts))
	for key, n := range counts {
		out = append(out, api.ProbeFlags{Probe: key[0], Reason: key[1], Count: n})
	}
	return out
}

// asTold is a reading in the unit that a person said the sensor sends.
func asTold(r process.Reading, u *process.UnitAsk) process.Reading {
	c := u.Converted(process.Sample{At: r.Measured, Value: r.Value})
	if c == r.Value || r.Quality == process.Bad {
		return r
	}
	r.Reason = strings.TrimPrefix(r.Reason+fmt.Sprintf("; came as %.6g, and is in the unit that a person said the sensor sends", r.Value), "; ")
	r.Value, r.Quality = math.Round(c*1000)/1000, process.Suspect
	return r
}

package app

import (
	"fmt"
	"strings"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/record"
)

// doseRow is a dose among the readings: it was entered by a person, in g.
func doseRow(batch string, e process.DoseEntry) record.Row {
	return record.Row{Measured: e.At, Received: e.Typed, Batch: batch, Piece: strings.Join(e.Pieces, "+"), Placement: "curing salt",
		Probe: "hand, " + e.By, Value: e.CureG, Unit: "g", Source: record.Entered}
}

// doseDeviations are the doses in force that fail their checks, with why the batch
// went on all the same.
func doseDeviations(b *process.Batch) []record.Deviation {
	var out []record.Deviation
	why := wentOn(b)
	for _, e := range b.DosesInForce() {
		if e.Answer() == process.Met {
			continue
		}
		out = append(out, record.Deviation{What: "dose of " + strings.Join(e.Pieces, "+"), From: e.At,
			Worst: fmt.Sprintf("%.1f g weighed, %.0f ppm", e.CureG, e.PPM), Limit: fmt.Sprintf("%.1f g asked; %s", e.AskedG, e.Said.Rule),
			Outcome: string(process.Held), Text: strings.TrimSpace(e.Text() + why.Why), By: why.By, Typed: why.Typed})
	}
	return out
}

// wentOn is how the cure was left with a reason; empty when it was not.
func wentOn(b *process.Batch) process.StageEntry {
	for i, s := range b.Stages {
		if s.Why != "" && i > 0 && b.Stages[i-1].Name == process.StageCure {
			s.Why = "; went on: " + s.Why
			return s
		}
	}
	return process.StageEntry{}
}

// doses are the cure of the slabs for the page, while the batch lies in it.
func doses(b *process.Batch) *web.Doses {
	if b.Stage().Name != process.StageCure || !b.Plan.Cure.Dosed && len(b.Doses) == 0 {
		return nil
	}
	d := &web.Doses{Entries: b.DosesInForce()}
	for _, p := range b.Pieces {
		if b.Dose(p.Name) == nil {
			d.Missing = append(d.Missing, p.Name)
		}
	}
	return d
}

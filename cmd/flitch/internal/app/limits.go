package app

import (
	"fmt"
	"slices"
	"strings"

	"flitch/process"
	"flitch/process/record"
)

// limits lists every limit the plan asks for, with its source; those that are one
// temperature are drawn.
func limits(b *process.Batch) []record.Limit {
	var out []record.Limit
	for _, c := range b.Clocks(b.Now) {
		out = append(out, record.Limit{Name: string(c.Name), Text: c.Rule, Source: c.Source})
	}
	p := b.Plan
	if p.Cold.LimitMinutes > 0 {
		out = append(out, record.Limit{Name: "cold limit", Text: fmt.Sprintf("%.1f °C", p.Cold.AboveC), Source: p.Cold.Source, Drawn: true, LineC: p.Cold.AboveC})
	}
	for _, s := range p.Stages {
		if s.CoreC > 0 {
			out = append(out, record.Limit{Name: "core target, " + string(s.Name), Text: fmt.Sprintf("%.1f °C", s.CoreC), Source: s.Source, Drawn: true, LineC: s.CoreC})
		}
	}
	return out
}

// deviations are the limits that were not met. What became of them is a person's
// to say, and open until then.
func deviations(clocks []process.Clock) []record.Deviation {
	var out []record.Deviation
	for _, c := range clocks {
		if c.Verdict != process.NotMet || c.Name == process.ClockTurn {
			continue
		}
		out = append(out, record.Deviation{What: string(c.Name), From: c.From, To: c.To,
			Worst: record.Amount(c.Sum, c.Unit), Limit: c.Rule, Outcome: string(process.Held)})
	}
	return out
}

// entries lists what people said of the batch, in the order it was typed.
func entries(b *process.Batch) []record.Entry {
	var out []record.Entry
	for _, s := range b.Stages {
		out = append(out, record.Entry{Kind: process.CommandStage, Happened: s.Entered, Typed: s.Typed, By: s.By, Text: string(s.Name)})
	}
	for _, t := range b.Turns {
		text := "all pieces"
		if len(t.Pieces) > 0 {
			text = strings.Join(t.Pieces, ", ")
		}
		out = append(out, record.Entry{Kind: process.CommandTurned, Happened: t.At, Typed: t.Typed, By: t.By, Text: text})
	}
	for _, h := range b.Hand {
		kind := process.CommandReading
		if h.Placement == process.Weight {
			kind = process.CommandWeighed
		}
		out = append(out, record.Entry{Kind: kind, Happened: h.At, Typed: h.Typed, By: h.By,
			Placement: h.Placement, Piece: h.Piece, Value: h.Value, Text: h.Text})
	}
	for _, c := range b.Counts {
		out = append(out, record.Entry{Kind: process.CommandCounted, Happened: c.At, Typed: c.Typed, By: c.By, Text: fmt.Sprintf("%d pieces of %d, in %s", c.Pieces, len(b.Pieces), c.Stage)})
	}
	for _, n := range b.Notes {
		out = append(out, record.Entry{Kind: process.CommandNote, Happened: n.At, Typed: n.Typed, By: n.By, Text: n.Text})
	}
	slices.SortStableFunc(out, func(a, b record.Entry) int { return a.Typed.Compare(b.Typed) })
	return out
}

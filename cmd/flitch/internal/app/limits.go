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
	for _, span := range coldSpans(b) {
		out = append(out, record.Limit{Name: "cold limit", Text: fmt.Sprintf("%.1f °C", b.Plan.Cold.AboveC), Source: b.Plan.Cold.Source,
			Drawn: true, LineC: b.Plan.Cold.AboveC, From: span.Entered, To: span.Left})
	}
	for _, s := range b.Plan.Stages {
		if s.CoreC == 0 {
			continue
		}
		l := record.Limit{Name: "core target, " + string(s.Name), Text: fmt.Sprintf("%.1f °C", s.CoreC), Source: s.Source}
		if i := slices.IndexFunc(b.Stages, func(e process.StageEntry) bool { return e.Name == s.Name }); i >= 0 {
			l.Drawn, l.LineC, l.From, l.To = true, s.CoreC, b.Stages[i].Entered, b.Stages[i].Left
		}
		out = append(out, l)
	}
	return out
}

// coldSpans are the times in which the cold limit held: its stages as they were lived,
// those that follow each other as one.
func coldSpans(b *process.Batch) []process.StageEntry {
	var out []process.StageEntry
	if b.Plan.Cold.LimitMinutes == 0 {
		return nil
	}
	for _, e := range b.Stages {
		if !planned(b, e).Cold {
			continue
		}
		if n := len(out); n > 0 && out[n-1].Left.Equal(e.Entered) {
			out[n-1].Left = e.Left
			continue
		}
		out = append(out, e)
	}
	return out
}

// planned is what the plan says of a stage.
func planned(b *process.Batch, e process.StageEntry) process.StagePlan {
	if i := slices.IndexFunc(b.Plan.Stages, func(s process.StagePlan) bool { return s.Name == e.Name }); i >= 0 {
		return b.Plan.Stages[i]
	}
	return process.StagePlan{}
}

// settings are what the places of the stages were set to.
func settings(b *process.Batch) []record.Setting {
	var out []record.Setting
	for _, e := range b.Stages {
		if s := planned(b, e); s.SetC != 0 {
			out = append(out, record.Setting{Name: string(s.Where) + " set", C: s.SetC, From: e.Entered, To: e.Left})
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
	for i, s := range b.Stages {
		id := s.ID
		if i == 0 {
			id = "" // it came with the batch, and is not struck out
		}
		out = append(out, record.Entry{ID: id, Why: s.Why, Kind: process.CommandStage, Happened: s.Entered, Typed: s.Typed, By: s.By, Text: string(s.Name)})
	}
	for _, t := range b.Turns {
		text := "all pieces"
		if len(t.Pieces) > 0 {
			text = strings.Join(t.Pieces, ", ")
		}
		out = append(out, record.Entry{ID: t.ID, Pieces: t.Pieces, Kind: process.CommandTurned, Happened: t.At, Typed: t.Typed, By: t.By, Text: text})
	}
	for _, h := range b.Hand {
		kind := process.CommandReading
		if h.Placement == process.Weight {
			kind = process.CommandWeighed
		}
		out = append(out, record.Entry{ID: h.ID, Kind: kind, Happened: h.At, Typed: h.Typed, By: h.By,
			Placement: h.Placement, Piece: h.Piece, Value: h.Value, Text: weighingText(h.Rung, h.Text)})
	}
	for _, c := range b.Counts {
		out = append(out, record.Entry{ID: c.ID, Value: float64(c.Pieces), Kind: process.CommandCounted, Happened: c.At, Typed: c.Typed, By: c.By, Text: countText(c, len(b.Pieces))})
	}
	for _, v := range b.Tastes {
		out = append(out, record.Entry{Kind: process.CommandTasted, Happened: v.At, Typed: v.Typed, By: v.By, Text: v.Words()})
	}
	for _, v := range b.Costs {
		out = append(out, record.Entry{Kind: process.CommandCost, Happened: v.At, Typed: v.Typed, By: v.By, Text: "the amounts stand in the record for oneself"})
	}
	for _, n := range b.Notes {
		out = append(out, noteEntry(n))
	}
	out = append(out, struckEntries(b)...)
	slices.SortStableFunc(out, func(a, b record.Entry) int { return a.Typed.Compare(b.Typed) })
	return out
}

// countText says how many pieces of how many were counted, and on which side of a stage.
func countText(c process.Count, all int) string {
	side := map[process.Way]string{process.WayIn: "into", process.WayOut: "out of"}[c.Way]
	if side == "" {
		side = "in"
	}
	text := fmt.Sprintf("%d pieces of %d", c.Pieces, all)
	if c.Stage == "" { // struck out, and said without a stage
		return text
	}
	return text + ", " + side + " " + string(c.Stage)
}

// weighingText says at which step of the yield something was weighed, and what was noted.
func weighingText(r process.Rung, text string) string { return strings.Trim(r.Words()+"; "+text, "; ") }

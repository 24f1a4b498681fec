package record

import (
	"fmt"
	"strings"

	"flitch/process"
)

// packing is what went into the packs.
func packing(s *study) []Form {
	f := Form{Name: "Packing", Title: "Packing and label", Source: "columns: common practice; words of a label: 9 CFR 317.2", None: "No packing is recorded.", Facts: true}
	at, ok := s.packed()
	if !ok {
		return []Form{f}
	}
	f.fact("Lot", text(s.Head.Batch))
	f.fact("Packed", s.Site.when(at))
	for _, name := range []process.StageName{process.StagePack, process.StageStore} {
		if e, is := s.entered(name); is {
			f.fact("Stage "+string(name)+" entered by", lines(e.By, typedLater(s.Site, e.Entered, e.Typed)))
		}
	}
	for _, e := range s.standing(process.CommandCounted) {
		f.fact("Counted", text(e.Text+", "+e.By+", "+s.Site.Stamp(e.Happened)))
	}
	for _, e := range s.standing(process.CommandWeighed) {
		if !e.Happened.Before(at) {
			f.fact("Weighed "+e.Piece, text(s.Site.Value(process.Weight, e.Value)+", "+e.By+", "+s.Site.Stamp(e.Happened)))
		}
	}
	if day, is := s.useBy(); is {
		f.fact("Use by, by the plan", text(s.Site.day(day).Text))
	}
	f.Notes = append(f.Notes, "Not recorded: packs and their net weights, label checked (name, ingredients, keep cold, cook before eating, handling, use by).")
	return []Form{f}
}

// preShipment is the list that is gone through before anything is sold: what the record
// answers itself is filled in, the rest is the reviewer's.
func preShipment(s *study) []Form {
	f := Form{Name: "Pre-shipment", Title: "Pre-shipment review", Source: "asked by 9 CFR 417.5(c), where it can be done by somebody who did not make the record", Facts: true, Blank: true}
	f.fact("Batch", text(s.Head.Batch))
	f.fact("Records", text(s.inventory()))
	f.fact("Clocks", text(s.verdicts()))
	open := 0
	for _, d := range s.Deviations {
		if d.Open != "" || d.Outcome == "" || d.Outcome == string(process.Held) || d.Outcome == string(process.HoldForAdvice) {
			open++
		}
	}
	f.fact("Deviations", text(fmt.Sprintf("%d, of them %d open or held", len(s.Deviations), open)))
	for _, r := range s.Reviews {
		f.fact("Reviewed", lines(r.By+", "+s.Site.Stamp(r.At), typedLater(s.Site, r.At, r.Typed), r.Text))
	}
	for _, ask := range []string{"Records looked at", "All complete, yes or no", "All limits met, yes or no", "Deviations closed, yes or no", "Reviewed by, date and time, signature"} {
		f.add(text(ask), Cell{})
	}
	return []Form{f}
}

// verdicts counts the clocks by what they say.
func (s *study) verdicts() string {
	counts, order := map[string]int{}, []string{}
	for _, c := range s.Clocks {
		v := Verdict(c)
		if counts[v] == 0 {
			order = append(order, v)
		}
		counts[v]++
	}
	for i, v := range order {
		order[i] = fmt.Sprintf("%d %s", counts[v], v)
	}
	if len(order) == 0 {
		return "none"
	}
	return strings.Join(order, ", ")
}

// inventory is how many lines the other forms have.
func (s *study) inventory() string {
	var filled, empty []string
	for _, part := range []part{receiving, curingLog, turnLog, coolerLog, thermalLog, handReadings, coolingLog, calibrationLog, correctiveActions, dispositionsOf, packing} {
		for _, f := range part(s) {
			if len(f.Rows) == 0 {
				empty = append(empty, f.Title)
				continue
			}
			filled = append(filled, fmt.Sprintf("%s: %d", f.Title, len(f.Rows)))
		}
	}
	text := "lines in " + strings.Join(filled, ", ")
	if len(filled) == 0 {
		text = "no line in any form"
	}
	if len(empty) > 0 {
		text += "; none in " + strings.Join(empty, ", ")
	}
	return text
}

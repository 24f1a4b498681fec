package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/process"
	"flitch/process/cure"
)

// receiving is what came in.
func receiving(s *study) []Form {
	f := Form{Name: "Receiving", Title: "Receiving log", Source: "columns: common practice in receiving procedures of small plants", None: "No piece is recorded.",
		Columns: []string{"Piece", "Taken in", "Product", "Weight g", "Thickness mm", "Skin", "Temperature " + s.Site.Degree(), "By"}}
	for _, p := range s.Head.Pieces {
		skin := "off"
		if p.SkinOn {
			skin = "on"
		}
		f.add(text(p.Name), s.Site.when(s.Head.Started), text(s.Head.Product), amount(p.GreenG, 0), amount(p.ThicknessMM, 0), text(skin), s.onArrival(p.Name), text(s.Head.By))
	}
	f.recorded("supplier and lot", "accepted or refused")
	return []Form{f}
}

// onArrival is what somebody read in a piece before its cure began, or within an hour.
func (s *study) onArrival(piece string) Cell {
	until := s.Head.Started.Add(time.Hour)
	if e, ok := s.entered(process.StageCure); ok && e.Entered.After(until) {
		until = e.Entered
	}
	for _, e := range s.standing(process.CommandReading) {
		if e.Placement == process.Core && e.Piece == piece && e.Happened.Before(until) {
			return s.Site.temp(e.Value)
		}
	}
	return Cell{}
}

// curingLog is what was weighed for which piece, corrected entries too.
func curingLog(s *study) []Form {
	f := Form{Name: "Curing", Title: "Curing log", Source: "columns: common practice; checks by the rules named in them", None: "No dose was logged.",
		Columns: []string{"Pieces", "Green g", "Cure weighed g", "Cure asked g", "Nitrite in it %", "Ingoing nitrite ppm", "Checks", "Put on", "By"}}
	for i, e := range s.Doses {
		by := lines(e.By, typedLater(s.Site, e.At, e.Typed), e.Why)
		if !inForce(s.Doses[i+1:], e.Pieces) {
			by = lines(by.Text, "an entry typed later holds")
		}
		f.add(text(strings.Join(e.Pieces, ", ")), amount(s.green(e.Pieces), 0), amount(e.CureG, 1), amount(e.AskedG, 1), amount(100*e.Said.Nitrite, 2), amount(e.PPM, 0), checksOf(e.Checks), s.Site.when(e.At), by)
	}
	f.recorded("lot of the cure", "salt and sugar asked and weighed")
	f.Notes = append(append(f.Notes, s.checkSources()...), fmt.Sprintf("Recipe: %s, version %d.", s.Head.Plan.Name, s.Head.Plan.Version))
	return []Form{f}
}

func checksOf(all []cure.Check) Cell {
	var out []string
	for _, c := range all {
		line := fmt.Sprintf("%s: %s", c.Name, c.Answer)
		if c.Hint != "" {
			line += " (" + c.Hint + ")"
		}
		out = append(out, line)
	}
	return lines(out...)
}

// checkSources are by which rules the doses were checked, each said once.
func (s *study) checkSources() (notes []string) {
	for _, e := range s.Doses {
		for _, c := range e.Checks {
			by := strings.Trim(c.Rule+"; "+c.Source, "; ")
			if note := c.Name + ": " + by + "."; by != "" && !slices.Contains(notes, note) {
				notes = append(notes, note)
			}
		}
	}
	return notes
}

func (r *Record) green(pieces []string) (g float64) {
	for _, p := range r.Head.Pieces {
		if slices.Contains(pieces, p.Name) {
			g += p.GreenG
		}
	}
	return g
}

// turnLog is every turn with who did it, and when the pieces came out of the cure.
func turnLog(s *study) []Form {
	f := Form{Name: "Turns", Title: "Curing log: turns", Source: "columns: common practice", None: "No turn was entered.", Columns: []string{"Turned", "Pieces", "Since the one before", "By"}}
	last := s.Head.Started
	if e, ok := s.entered(process.StageCure); ok {
		last = e.Entered
	}
	for _, e := range s.turns() {
		f.add(s.Site.when(e.Happened), text(e.Text), text(Span(e.Happened.Sub(last))), lines(e.By, typedLater(s.Site, e.Happened, e.Typed)))
		last = e.Happened
	}
	if e, ok := s.entered(process.StageCure); ok && !e.Left.IsZero() {
		f.Notes = append(f.Notes, "Out of the cure: "+s.Site.Stamp(e.Left)+".")
	}
	return []Form{f}
}

// turns are in the order they happened, whenever they were typed.
func (s *study) turns() []Entry {
	out := s.standing(process.CommandTurned)
	slices.SortStableFunc(out, func(a, b Entry) int { return a.Happened.Compare(b.Happened) })
	return out
}

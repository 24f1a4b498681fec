package record

import (
	"fmt"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// yieldLadder is every weight from green to the packs, with what is left of the green one.
func yieldLadder(s *study) []Form {
	f := Form{Name: "Yield", Title: "Yield ladder", Columns: []string{"Piece", "Weighed", "Stage", "Step, note", "Weight g", "Of green %"}, None: "No piece is recorded."}
	for _, p := range s.Head.Pieces {
		f.add(text(p.Name), s.Site.when(s.Head.Started), text("green"), Cell{}, amount(p.GreenG, 0), amount(100, 1))
		for _, e := range s.standing(process.CommandWeighed) {
			if e.Piece != p.Name && (e.Piece != "" || len(s.Head.Pieces) > 1) {
				continue
			}
			left := Cell{}
			if p.GreenG > 0 {
				left = amount(100*e.Value/p.GreenG, 1)
			}
			f.add(text(p.Name), s.Site.when(e.Happened), text(string(s.during(e.Happened))), text(e.Text), amount(e.Value, 0), left)
		}
	}
	f.recorded()
	if len(f.Rows) == len(s.Head.Pieces) && len(f.Rows) > 0 {
		f.Notes = append(f.Notes, "No weight but the green one was entered.")
	}
	return []Form{f}
}

// during is the stage at a time.
func (r *Record) during(at time.Time) (name process.StageName) {
	for _, e := range r.Stages {
		if !e.Entered.After(at) {
			name = e.Name
		}
	}
	return name
}

// hoursTo is how long each core took, and how long it stood still.
func hoursTo(s *study) []Form {
	f := Form{Name: "Cook", Title: "Hours from the fire", Columns: []string{"Piece"}, None: "No core was measured in the heat."}
	for _, c := range reached {
		f.Columns = append(f.Columns, "To "+s.Site.Temp(c))
	}
	f.Columns = append(f.Columns, "Highest "+s.Site.Degree(), "Stall")
	from, _ := s.heat()
	s.of(process.Core, func(e *ear) {
		if !e.core.began {
			return
		}
		row := []Cell{text(e.data.Piece)}
		for i := range reached {
			at := e.core.up[i].moment()
			if at.IsZero() {
				row = append(row, text("not reached"))
				continue
			}
			row = append(row, text(Span(at.Sub(from))))
		}
		f.add(append(row, s.Site.temp(e.core.highest), text(s.stall(e.data.Probe)))...)
	})
	return []Form{f}
}

func (s *study) stall(probe string) string {
	var all []string
	for _, h := range s.Happenings {
		if h.Name != "stall" || h.Probe != probe {
			continue
		}
		if h.To.IsZero() {
			all = append(all, "from "+s.Site.Short(h.From)+", not over")
			continue
		}
		all = append(all, Span(h.To.Sub(h.From))+" from "+s.Site.Short(h.From))
	}
	if len(all) == 0 {
		return "none was seen"
	}
	return strings.Join(all, "\n")
}

// wokeMe are the alarms that rang, and what was said of them afterwards.
func wokeMe(s *study) []Form {
	f := Form{Name: "Rings", Title: "What rang, and was it worth it", Columns: []string{"Raised", "What", "Worst", "Answered", "Said of it"}, None: "Nothing rang."}
	for _, a := range s.Alarms {
		if a.Level != alerts.Ring {
			continue
		}
		said := text("nothing yet: flitch judge " + fmt.Sprint(a.Number) + " useful, false or late")
		if j := a.Judged; j != nil {
			said = strong(j.Word + ", " + j.By)
		}
		f.add(s.Site.when(a.RaisedAt), lines(a.Title, a.Subject), text(s.Site.Quantity(a.Worst, a.Unit)), answered(s.Site, a), said)
	}
	return []Form{f}
}

// tasteCard is what tasters entered, or a card for the pen.
func tasteCard(s *study) []Form {
	if cards := s.standing(process.CommandTasted); len(cards) > 0 {
		f := Form{Name: "Taste card", Title: "Taste card", Columns: []string{"Tasted", "Scores of 1 to 5, what to change", "By"}, Notes: []string{"Not recorded: wood, weather."}}
		for _, e := range cards {
			f.add(s.Site.when(e.Happened), text(e.Text), text(e.By))
		}
		return []Form{f}
	}
	f := Form{Name: "Taste card", Title: "Taste card", Facts: true, Blank: true, Notes: []string{"Not recorded, to be written by hand: taste, wood, weather."}}
	for _, ask := range []string{"Salt, 1 to 5", "Sweet, 1 to 5", "Smoke, 1 to 5", "Texture, 1 to 5", "Colour, 1 to 5", "Next time change"} {
		f.add(text(ask), Cell{})
	}
	return []Form{f}
}

// notesOf are the notes of the batch.
func notesOf(s *study) []Form {
	f := Form{Name: "Notes", Title: "Notes", Columns: []string{"When", "Note", "By"}, None: "None was written."}
	for _, e := range s.standing(process.CommandNote) {
		f.add(s.Site.when(e.Happened), text(e.Text), text(e.By))
	}
	return []Form{f}
}

package record

import (
	"time"

	"flitch/process"
)

// clockRow is the row of clocks, each with its limit, what was counted, and the verdict.
func clockRow(s *study) []Form {
	f := Form{Name: "Clocks", Title: "Clocks", Columns: []string{"Clock", "Verdict", "Counted", "From", "To", "Rule and its source"}, None: "No clock was asked for."}
	for _, c := range s.Clocks {
		rule := []string{c.Rule, c.Source}
		for _, doubt := range c.Uncertain {
			rule = append(rule, "Doubtful: "+doubt)
		}
		f.add(text(string(c.Name)), strong(Verdict(c)), text(Sum(c)), s.Site.when(c.From), s.Site.until(c.From, c.To, "now"), lines(rule...))
	}
	return []Form{f}
}

// until is the end of something that has begun.
func (s Site) until(from, to time.Time, open string) Cell {
	if from.IsZero() {
		return Cell{}
	}
	return s.when(to).or(open)
}

// customerClocks are the clocks in words a customer reads: no doubts, no sources.
func customerClocks(s *study) []Form {
	f := Form{Name: "Limits", Title: "Limits of the plan and how they stand", Columns: []string{"Clock", "Limit", "Counted", "Verdict"}, None: "No limit was asked for."}
	for _, c := range s.Clocks {
		if c.Name == process.ClockTurn || c.Name == process.ClockKeep { // of the work, and of the label
			continue
		}
		f.add(text(string(c.Name)), text(c.Rule), text(Sum(c)), strong(Verdict(c)))
	}
	f.Notes = append(f.Notes, "Met and not met: how the readings compare with the limit. Not measured: not enough was measured to say. Held: a person has to decide.")
	return []Form{f}
}

// graph is the picture from the cure to the pack, and one of the heat and the chill where
// they would be a thin line in it.
func graph(s *study) []Form {
	whole := s.window(View{Width: graphWidth, Height: graphHeight})
	all := []Form{{Name: "Temperatures", Title: "Temperatures", Graph: true, View: whole, Notes: []string{
		"No line is drawn where readings are missing; grey: no probe told anything. Triangles: alarms by number. Rings: readings taken by hand and typed. Bad readings are not drawn."}}}
	from, to := s.heat()
	if from.IsZero() {
		return all
	}
	if e, ok := s.entered(process.StageChill); ok && !to.IsZero() {
		if to = e.Left; to.IsZero() {
			to = whole.To
		}
	}
	part := s.window(View{From: from.Add(-graphAir), To: to.Add(graphAir), Width: graphWidth, Height: graphHeight})
	if to.IsZero() {
		part.To = whole.To
	}
	if part.To.Sub(part.From) < whole.To.Sub(whole.From)/2 {
		all = append(all, Form{Name: "Heat and chill", Title: "Temperatures of the heat and the chill", Graph: true, View: part})
	}
	return all
}

// graphAir is what is shown before and after.
const graphAir = 30 * time.Minute

// limitsChosen are the limits and who says so.
func limitsChosen(s *study) []Form {
	f := Form{Name: "Limits", Title: "Limits chosen", Columns: []string{"Limit", "In words", "Where it comes from"}, None: "None."}
	for _, l := range s.Limits {
		f.add(text(l.Name), text(l.Text), text(l.Source))
	}
	return []Form{f}
}

// estimatesOf is what models say beside the clocks.
func estimatesOf(s *study) []Form {
	if len(s.Estimates) == 0 {
		return nil
	}
	f := Form{Name: "Models", Title: "What models say beside the clocks", Columns: []string{"Estimate", "Of", "Value", "Model and its source"},
		Notes: []string{"Estimates by published models from the temperatures: nobody measured them. The verdict is the rule's."}}
	for _, e := range s.Estimates {
		f.add(text(e.Name), text(e.Subject), text(Estimate(e)), lines(append([]string{e.Model, e.Source}, e.Doubts...)...))
	}
	return []Form{f}
}

// stagesLived are the stages, with what the places were set to and what they were.
func stagesLived(s *study) []Form {
	deg := s.Site.Degree()
	f := Form{Name: "Stages", Title: "Stages, set and actual", None: "None.",
		Columns: []string{"Stage", "Entered", "Left", "Set " + deg, "Lowest " + deg, "Mean " + deg, "Highest " + deg, "By"}}
	for i, e := range s.Stages {
		set := s.set(e)
		why := allTheSame(e.Why)
		if i == 0 { // a batch begins with it: what was said then is a remark
			why = e.Why
		}
		by := lines(e.By, typedLater(s.Site, e.Entered, e.Typed), why)
		actual := s.actual(i)
		if e.passedBy() {
			actual = []Cell{text("passed by"), {}, {}}
		}
		row := append([]Cell{text(string(e.Name)), s.Site.when(e.Entered), s.Site.when(e.Left).or("goes on"), set}, actual...)
		f.add(append(row, by)...)
	}
	f.Notes = append(f.Notes, "Lowest, mean and highest reading of the probe beside the meat while the stage lasted: in the smoker of the chamber, in the cold of the slow sensor or else of the air.")
	return []Form{f}
}

func allTheSame(why string) string {
	if why == "" {
		return ""
	}
	return "all the same: " + why
}

// beside are the probes that say how warm the place was, the nearest to the meat first.
var beside = []process.Placement{process.Chamber, process.Product, process.Air}

// actual is what the place was in a stage, by the first probe that told.
func (s *study) actual(stage int) []Cell {
	for _, p := range beside {
		for _, e := range s.ears {
			if v := e.stages[stage]; e.data.Placement == p && v.count > 0 {
				return []Cell{s.Site.temp(v.low), s.Site.temp(v.mean()), s.Site.temp(v.high)}
			}
		}
	}
	return []Cell{text("not measured"), {}, {}}
}

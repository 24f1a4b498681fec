package record

import (
	"fmt"
	"slices"
	"strings"

	"flitch/process"
)

// thermalLog is a line a stage from the first fire to the end of the heat, with the cores
// at the end of each.
func thermalLog(s *study) []Form {
	deg := s.Site.Degree()
	f := Form{Name: "Thermal", Title: "Thermal processing log", Source: "columns: common practice; product, lot and actual values: 9 CFR 417.5(a)(3)", None: "No heat is recorded.",
		Columns: []string{"Stage", "House", "In", "Out", "Set " + deg, "Lowest " + deg, "Mean " + deg, "Highest " + deg}}
	var cores []*ear
	s.of(process.Core, func(e *ear) { cores = append(cores, e) })
	for _, e := range cores {
		f.Columns = append(f.Columns, "Core "+e.data.Piece+" at its end "+deg)
	}
	f.Columns = append(f.Columns, "By")
	from, to := s.heat()
	for i, e := range s.Stages {
		if from.IsZero() || e.Entered.Before(from) || e.passedBy() || !to.IsZero() && !e.Entered.Before(to) {
			continue
		}
		row := []Cell{text(string(e.Name)), text(s.house(i)), s.Site.when(e.Entered), s.Site.when(e.Left).or("goes on"), s.set(e)}
		row = append(row, s.actual(i)...)
		for _, c := range cores {
			row = append(row, s.lastOf(c, i))
		}
		f.add(append(row, text(e.By))...)
	}
	f.Notes = s.heatNotes(cores)
	return []Form{f}
}

func (s *study) set(e Stage) Cell {
	if p, _ := s.planned(e.Name); p.SetC != 0 {
		return s.Site.temp(p.SetC)
	}
	return Cell{}
}

func (s *study) lastOf(e *ear, stage int) Cell {
	if e.stages[stage].count == 0 {
		return text("not measured")
	}
	return s.Site.temp(e.stages[stage].last)
}

// house is the place whose chamber told in a stage.
func (s *study) house(stage int) string {
	for _, e := range s.ears {
		if e.data.Placement == process.Chamber && e.stages[stage].count > 0 {
			return e.data.Place
		}
	}
	return ""
}

// heatNotes are the probes with their places, the highest core, and what the clocks of the
// heat say.
func (s *study) heatNotes(cores []*ear) (notes []string) {
	for _, e := range cores {
		if e.core.began {
			notes = append(notes, fmt.Sprintf("Core %s by %s: highest %s, %s.", e.data.Piece, e.data.Probe, s.Site.Temp(e.core.highest), s.Site.Stamp(e.core.topAt)))
		}
	}
	for _, c := range s.Clocks {
		if c.Name == process.ClockComeUp || c.Name == process.ClockLethality {
			notes = append(notes, fmt.Sprintf("%s: %s, %s; %s", c.Name, Verdict(c), Sum(c), c.Rule))
		}
	}
	return notes
}

// handReadings are the checks by a second thermometer, and pH.
func handReadings(s *study) []Form {
	f := Form{Name: "Hand readings", Title: "Readings by hand", Source: "columns: common practice", None: "None was entered.", Columns: []string{"Read", "What", "Piece", "Value", "With, note", "By", "Typed"}}
	for _, e := range s.standing(process.CommandReading) {
		f.add(s.Site.when(e.Happened), text(string(e.Placement)), text(e.Piece), text(s.Site.Value(e.Placement, e.Value)), text(e.Text), text(e.By), s.later(e.Happened, e.Typed))
	}
	return []Form{f}
}

// coolingLog is a line a core from the end of the heat into the cold.
func coolingLog(s *study) []Form {
	deg := s.Site.Degree()
	f := Form{Name: "Cooling", Title: "Cooling log", Source: "times and temperatures as the cooling sheets of FSIS-GD-2021-14 and extension services ask them", None: "No heat is over yet, or no core was measured in it.",
		Columns: []string{"Piece", "End of heat", "Core then " + deg, "Into the cold", "At " + s.Site.Temp(cooled[0]), "At " + s.Site.Temp(cooled[1]), "At " + s.Site.Temp(cooled[2])}}
	_, end := s.heat()
	into := Cell{}
	by := ""
	if e, ok := s.entered(process.StageChill); ok {
		into, by = s.Site.when(e.Entered), e.By
	}
	s.of(process.Core, func(e *ear) {
		if !e.core.began || end.IsZero() {
			return
		}
		row := []Cell{text(e.data.Piece), s.Site.when(end), s.Site.temp(e.core.endC), into.or("not recorded")}
		for i := range cooled {
			row = append(row, s.Site.when(e.core.down[i].moment()).or("not measured"))
		}
		f.add(row...)
	})
	for _, c := range s.Clocks {
		if strings.HasPrefix(string(c.Name), "chill") {
			f.Notes = append(f.Notes, fmt.Sprintf("%s: %s, %s; %s", c.Name, Verdict(c), Sum(c), c.Rule))
		}
	}
	if by != "" {
		f.Notes = append(f.Notes, "Put into the cold by: "+by)
	}
	return []Form{f}
}

// calibrationLog is every check of a probe that the batch knows of.
func calibrationLog(s *study) []Form {
	deg := s.Site.Degree()
	f := Form{Name: "Calibration", Title: "Calibration log", Source: "columns and the limit of 2 °F (1.1 K): thermometer procedures of small plants; calibration in the records: 9 CFR 417.5(a)(3)", None: "No check of a probe is known.",
		Columns: []string{"Instrument", "Place", "Checked", "Method", "Read " + deg, "True " + deg, "Within 2 °F", "What it came to", "By"}}
	for _, d := range s.Data {
		for _, c := range checksKnown(d) {
			for _, p := range c.Points() {
				within := "no"
				if p.OffK() <= process.CheckLimitK && p.OffK() >= -process.CheckLimitK {
					within = "yes"
				}
				f.add(text(d.Probe), text(d.Place), s.Site.when(c.At), text(p.Method), s.Site.temp(p.ReadC), s.Site.temp(p.TrueC), text(within), lines(c.Words(), c.Text), text(c.By))
			}
		}
	}
	if without := s.unchecked(); without != "" {
		f.Notes = append(f.Notes, "No good check is known of: "+without+".")
	}
	return []Form{f}
}

// checksKnown are the checks of a probe, each once, in the order they happened.
func checksKnown(d ProbeData) []process.ProbeCheck {
	all := slices.Clone(d.Checks)
	for _, c := range []*process.ProbeCheck{d.LastGood, d.Failed} {
		if c != nil && !slices.ContainsFunc(all, func(o process.ProbeCheck) bool { return o.At.Equal(c.At) && o.Method == c.Method }) {
			all = append(all, *c)
		}
	}
	slices.SortStableFunc(all, func(a, b process.ProbeCheck) int { return a.At.Compare(b.At) })
	return all
}

func (r *Record) unchecked() string {
	var names []string
	for _, d := range r.Data {
		if d.Placement.IsTemperature() && d.LastGood == nil {
			names = append(names, d.Probe)
		}
	}
	return strings.Join(names, ", ")
}

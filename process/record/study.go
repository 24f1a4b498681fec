package record

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/chart"
	"flitch/process/series"
)

// A study is a record with what its readings come to. They are gone through once.
type study struct {
	*Record     // with its Data counted
	fingerprint string
	lines       []chart.Line
	rows        int
	ears        []*ear // one for each probe that told anything, in the order of the readings
}

// An ear listens to one probe while the readings go by.
type ear struct {
	data   ProbeData
	line   *series.Series
	last   Row // the newest believed reading
	heard  bool
	stages []spread // by the stages of the batch, while they lasted
	cold   *coldEar // of a place that keeps cold
	core   *coreEar
	doors  []time.Time // when it was opened
}

// A spread is what some readings were between.
type spread struct {
	count          int
	low, high, sum float64
	last           float64
}

func (s *spread) add(v float64) {
	if s.count == 0 {
		s.low, s.high = v, v
	}
	s.low, s.high, s.last = min(s.low, v), max(s.high, v), v
	s.sum += v
	s.count++
}

func (s spread) mean() float64 { return s.sum / float64(s.count) }

func (r *Record) study() (*study, error) {
	whole := *r
	whole.Entries = withoutCost(r.Entries)
	s := &study{Record: &whole}
	counts := newTally(r.Data)
	sum := sha256.New()
	table := r.table(sum)
	byProbe := map[string]*ear{}
	err := r.Readings.each(func(row Row) error {
		if row.Source != Entered && row.Source != StruckOut && row.Quality != process.Bad {
			e := byProbe[row.Probe]
			if e == nil {
				e = s.listen(row)
				byProbe[row.Probe] = e
			}
			e.hear(s, row)
		}
		s.rows++
		counts.count(row)
		return table.row(row)
	})
	if err == nil {
		err = table.end()
	}
	whole.Data = counts.counted()
	s.fingerprint = hex.EncodeToString(sum.Sum(nil))
	return s, err
}

func (s *study) listen(row Row) *ear {
	e := &ear{data: s.data(row), stages: make([]spread, len(s.Stages))}
	switch p := row.Placement; {
	case p == process.Core:
		e.core = new(coreEar)
	case p == process.Product || p == process.Air:
		e.cold = newColdEar(s.Site)
	}
	if row.Placement.IsTemperature() {
		e.line = new(series.Series)
		s.lines = append(s.lines, chart.Line{Probe: row.Probe, Placement: row.Placement, Piece: row.Piece, Interval: e.data.Interval, Readings: e.line})
	}
	s.ears = append(s.ears, e)
	return e
}

// data is what is known of the probe of a row.
func (s *study) data(row Row) ProbeData {
	if i := slices.IndexFunc(s.Data, func(d ProbeData) bool { return d.Probe == row.Probe }); i >= 0 {
		return s.Data[i]
	}
	return ProbeData{PlacedProbe: process.PlacedProbe{Probe: row.Probe, Placement: row.Placement, Piece: row.Piece}}
}

func (e *ear) hear(s *study, row Row) {
	if e.line != nil {
		e.line.Add(row.Measured, row.Value)
	}
	for i := range s.Stages {
		if stage := &s.Stages[i]; !row.Measured.Before(stage.Entered) && (stage.Left.IsZero() || row.Measured.Before(stage.Left)) {
			e.stages[i].add(row.Value)
			if e.cold != nil && s.cold(stage.Name) {
				e.cold.hear(e, row)
			}
		}
	}
	if e.core != nil {
		e.core.hear(s, e, row)
	}
	if row.Placement == process.Door && row.Value >= 0.5 && e.heard && e.last.Value < 0.5 {
		e.doors = append(e.doors, row.Measured)
	}
	e.last, e.heard = row, true
}

// of calls do for each probe with the placement.
func (s *study) of(p process.Placement, do func(*ear)) {
	for _, e := range s.ears {
		if e.data.Placement == p {
			do(e)
		}
	}
}

// planned is what the plan says of a stage; false when it does not know it.
func (r *Record) planned(name process.StageName) (process.StagePlan, bool) {
	i := slices.IndexFunc(r.Plan.Stages, func(p process.StagePlan) bool { return p.Name == name })
	if i < 0 {
		return process.StagePlan{}, false
	}
	return r.Plan.Stages[i], true
}

// passedBy reports a stage that was left when it was entered.
func (s Stage) passedBy() bool { return !s.Left.IsZero() && !s.Left.After(s.Entered) }

// cold reports whether the meat is in a cold place in a stage. Of a stage that the plan
// does not know it is asked as well: nothing that was warm may be left out.
func (r *Record) cold(name process.StageName) bool {
	p, known := r.planned(name)
	return !known || p.Where == process.WhereFridge || p.Where == process.WhereFreezer
}

// heat is from when to when the fire was lit. Zero times: not at all, or not over.
func (r *Record) heat() (from, to time.Time) {
	for _, s := range r.Stages {
		if p, known := r.planned(s.Name); !p.Heat && (known || s.Name != process.StageSmoke && s.Name != process.StageCook) {
			continue
		}
		if from.IsZero() {
			from = s.Entered
		}
		to = s.Left
	}
	return from, to
}

// standing are the entries of a kind that nobody struck out. Those that were stand under
// what people entered, with who struck them out and why, and in no other form.
func (r *Record) standing(kind process.CommandKind) (out []Entry) {
	for _, e := range r.Entries {
		if e.Kind == kind && e.Struck == nil {
			out = append(out, e)
		}
	}
	return out
}

// entered returns the first time a stage was entered.
func (r *Record) entered(name process.StageName) (Stage, bool) {
	i := slices.IndexFunc(r.Stages, func(s Stage) bool { return s.Name == name })
	if i < 0 {
		return Stage{}, false
	}
	return r.Stages[i], true
}

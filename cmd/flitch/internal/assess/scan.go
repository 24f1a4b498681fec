package assess

import (
	"slices"
	"time"

	"flitch/process"
)

// A scanner finds the times in which a fridge probe was above the plan's cold
// limit while the batch was in a cold stage.
type scanner struct {
	limit float64
	open  map[string]*Excursion
	over  []Excursion
}

func newScanner(p process.Plan) scanner {
	return scanner{limit: p.Cold.AboveC, open: map[string]*Excursion{}}
}

func (s *scanner) reading(r row, b *process.Batch) {
	if r.reading.Quality == process.Bad || r.of.place != process.Product && r.of.place != process.Air {
		return
	}
	name, at, v := r.reading.Probe, r.reading.Measured, r.reading.Value
	e := s.open[name]
	switch {
	case !b.Stage().Cold || v <= s.limit:
		s.end(name, at)
	case e == nil:
		s.open[name] = &Excursion{What: "above the cold limit", Probe: name, From: at, To: at, Worst: v, Limit: s.limit}
	default:
		e.To, e.Worst = at, max(e.Worst, v)
	}
}

func (s *scanner) end(name string, at time.Time) {
	if e := s.open[name]; e != nil {
		e.To = at
		s.over = append(s.over, *e)
		delete(s.open, name)
	}
}

// done returns all excursions in order of time; one that never ended goes to the
// last reading above.
func (s *scanner) done() []Excursion {
	out := append([]Excursion{}, s.over...)
	for _, e := range s.open {
		out = append(out, *e)
	}
	slices.SortFunc(out, func(a, b Excursion) int { return a.From.Compare(b.From) })
	return out
}

package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// coolerLog is a line a day for each cold place the meat was in: by its slow sensor, or by
// the air where it has none.
func coolerLog(s *study) []Form {
	deg := s.Site.Degree()
	f := Form{Name: "Cooler", Title: "Cooler log", Source: "columns: common practice; 40 °F (4.4 °C): household advice of US agencies, 45 °F (7.2 °C): end of the chill of FSIS-GD-2021-14", None: "The meat was in no cold place that is measured.",
		Columns: []string{"Day", "Place, probe", "Min " + deg, "Max " + deg, "Mean " + deg, fmt.Sprintf("Min above %s", s.Site.Temp(warm[0])), fmt.Sprintf("Min above %s", s.Site.Temp(warm[1])), "Min without data", "Door, defrost"}}
	for _, e := range s.slow() {
		for _, day := range s.coldDays(e.data) {
			d, heard := e.cold.on(day)
			where := lines(e.data.Place, e.data.Probe)
			if !heard {
				f.add(s.Site.day(day), where, text("not measured"), Cell{}, Cell{}, Cell{}, Cell{}, Cell{}, s.doors(e.data.Place, day))
				continue
			}
			f.add(s.Site.day(day), where, s.Site.temp(d.low), s.Site.temp(d.high), s.Site.temp(d.mean()), minutes(d.above[0]), minutes(d.above[1]), minutes(d.silent), s.doors(e.data.Place, day))
		}
	}
	if len(f.Rows) > 0 {
		f.Notes = append(f.Notes, "Minutes are taken along a line between readings; a silence is counted as without data and neither as above nor as below. The first and the last day are parts of a day.", "Not recorded: checked by.")
	}
	return []Form{f}
}

func minutes(d time.Duration) Cell { return amount(d.Minutes(), 0) }

// slow is for each cold place the probe that is most like the product.
func (s *study) slow() (out []*ear) {
	for _, p := range []process.Placement{process.Product, process.Air} {
		s.of(p, func(e *ear) {
			if len(e.cold.days) > 0 && !slices.ContainsFunc(out, func(o *ear) bool { return o.data.Place == e.data.Place }) {
				out = append(out, e)
			}
		})
	}
	return out
}

// coldDays are the days on which the meat was in the cold while the probe was wanted.
func (s *study) coldDays(d ProbeData) (days []time.Time) {
	for _, e := range s.Stages {
		if !s.cold(e.Name) {
			continue
		}
		from, to := e.Entered, e.Left
		if from.Before(d.From) {
			from = d.From
		}
		if to.IsZero() {
			to = s.MadeAt
		}
		if !d.To.IsZero() && to.After(d.To) {
			to = d.To
		}
		for day, next := s.Site.midnight(from); from.Before(to) && day.Before(to); day, next = s.Site.midnight(next) {
			if !slices.ContainsFunc(days, day.Equal) {
				days = append(days, day)
			}
		}
	}
	return days
}

// doors counts what the place's door and its defrosts did on a day.
func (s *study) doors(place string, day time.Time) Cell {
	counts := map[string]int{}
	_, next := s.Site.midnight(day)
	on := func(t time.Time) bool { return !t.Before(day) && t.Before(next) }
	s.of(process.Door, func(e *ear) {
		if e.data.Place == place {
			for _, at := range e.doors {
				if on(at) {
					counts["door, by its switch"]++
				}
			}
		}
	})
	for _, h := range s.Happenings {
		if words := doorWords[h.Name]; words != "" && on(h.From) && s.placeOf(h.Probe) == place {
			counts[words]++
		}
	}
	var out []string
	for name, n := range counts {
		out = append(out, fmt.Sprintf("%d × %s", n, name))
	}
	slices.Sort(out)
	return text(strings.Join(out, ", "))
}

// doorWords are the happenings that a cooler log has a column for.
var doorWords = map[string]string{"door-open": "door, by the air", "door-ajar": "door ajar, by the air", "defrost": "defrost"}

func (r *Record) placeOf(probe string) string {
	for _, d := range r.Data {
		if d.Probe == probe {
			return d.Place
		}
	}
	return ""
}

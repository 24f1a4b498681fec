package assess

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// usualUncertainty of a probe, K, when the file does not say (cook-cool-hold
// specification 1.4).
const usualUncertainty = 0.5

// probesOf are the probes of a file, with every one that a row names. The expected
// interval of each is the median of its spacings; every core is taken to be in the
// first piece, because the file does not say otherwise.
func (l *logged) probesOf(pieces []process.Piece) []process.PlacedProbe {
	var probes []process.PlacedProbe
	for _, s := range l.sources.list {
		if len(s.times) == 0 && !s.timeless {
			continue // all of it was before the batch began
		}
		p := process.PlacedProbe{Probe: s.probe, Placement: s.place, Place: placeOf(s.place), Uncertainty: usualUncertainty, Interval: s.interval()}
		if s.place == process.Core {
			p.Piece = pieces[0].Name
		}
		probes = append(probes, p)
	}
	return probes
}

func placeOf(p process.Placement) string {
	switch p {
	case process.Core, process.Chamber, process.WetBulb, process.Humidity:
		return "smoker"
	case process.Ambient:
		return "room"
	}
	return "fridge"
}

// The longest interval that is believed of a thermometer. There is a gap from three of
// them on, so that no line is drawn over more than the 30 min of the cooking guideline
// in a core, and over 3 h elsewhere (proposal): a file with most of its rows taken out
// is not one of a slow logger.
const (
	slowestCore  = 10 * time.Minute
	slowestOther = time.Hour
)

func (s *source) interval() time.Duration {
	median := spacing(s.times)
	switch {
	case s.place == process.Core:
		return min(median, slowestCore)
	case s.place.IsTemperature():
		return min(median, slowestOther)
	}
	return median
}

// spacing is the median time between rows; a minute when there is only one. Rows of
// one time are one.
func spacing(times []time.Time) time.Duration {
	gaps := make([]time.Duration, 0, len(times))
	for i := 1; i < len(times); i++ {
		if gap := times[i].Sub(times[i-1]); gap > 0 {
			gaps = append(gaps, gap)
		}
	}
	if len(gaps) == 0 {
		return time.Minute
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// hearFrom lets the silence of each probe count from its first row: a logger that was
// put in later was not silent before.
func (l *logged) hearFrom(p *process.Place) {
	for i := range p.Probes {
		for _, s := range l.sources.list {
			if s.probe == p.Probes[i].Probe.Probe && len(s.times) > 0 {
				p.Probes[i].Heard = s.times[0]
			}
		}
	}
}

// inOrder puts the times of each source in order, and the sources by the first of
// them: the order of the lines changes nothing.
func (s *sources) inOrder() {
	for _, of := range s.list {
		if !slices.IsSortedFunc(of.times, time.Time.Compare) {
			slices.SortFunc(of.times, time.Time.Compare)
		}
	}
	slices.SortStableFunc(s.list, func(a, b *source) int {
		return cmp.Or(slices.CompareFunc(first(a.times), first(b.times), time.Time.Compare), strings.Compare(a.probe, b.probe))
	})
}

func first(times []time.Time) []time.Time { return times[:min(1, len(times))] }

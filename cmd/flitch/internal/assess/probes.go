package assess

import (
	"slices"
	"time"

	"flitch/process"
)

// usualUncertainty of a probe, K, when the file does not say (cook-cool-hold
// specification 1.4).
const usualUncertainty = 0.5

// probesOf finds the probes of a file. The expected interval of each is the median
// of its spacings; every core is taken to be in the first piece, because the file
// does not say otherwise.
func probesOf(rows []row, pieces []process.Piece) []process.PlacedProbe {
	times := map[string][]time.Time{}
	var probes []process.PlacedProbe
	for _, r := range rows {
		name := r.reading.Probe
		if _, known := times[name]; !known {
			probes = append(probes, process.PlacedProbe{Probe: name, Placement: r.place, Place: placeOf(r.place), Uncertainty: usualUncertainty})
		}
		times[name] = append(times[name], r.reading.Measured)
	}
	for i := range probes {
		probes[i].Interval = spacing(times[probes[i].Probe])
		if probes[i].Placement == process.Core {
			probes[i].Piece = pieces[0].Name
		}
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

// spacing is the median time between readings; a minute when there is only one.
func spacing(times []time.Time) time.Duration {
	gaps := make([]time.Duration, 0, len(times))
	for i := 1; i < len(times); i++ {
		gaps = append(gaps, times[i].Sub(times[i-1]))
	}
	if len(gaps) == 0 {
		return time.Minute
	}
	slices.Sort(gaps)
	return gaps[len(gaps)/2]
}

// hearFrom lets the silence of each probe count from its first reading: a logger
// that was put in later was not silent before.
func hearFrom(p *process.Place, rows []row) {
	for i := range p.Probes {
		for _, r := range rows {
			if r.reading.Probe == p.Probes[i].Probe.Probe {
				p.Probes[i].Heard = r.reading.Measured
				break
			}
		}
	}
}

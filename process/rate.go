package process

import (
	"time"

	"flitch/process/heat"
)

// rateWindow is how far back a rate looks: long enough to see past the noise of
// one probe, short enough to be about now (proposal).
const rateWindow = 20 * time.Minute

// RatePerHour is how fast the value changes, K/h over the last 20 min, by the
// median of the slopes between all pairs of samples. ok is false with fewer than
// five samples.
func (t *Track) RatePerHour() (rate float64, ok bool) {
	window := t.Recent.since(t.Last.At, rateWindow)
	if len(window) < 5 {
		return 0, false
	}
	samples := make([]heat.Sample, len(window))
	for i, s := range window {
		samples[i] = heat.Sample{Min: s.At.Sub(t.Last.At).Minutes(), C: s.Value}
	}
	slope, ok := heat.TheilSen(samples)
	return slope.PerHour, ok
}

// Old reports whether the newest value is older than the probe may be silent, or its
// device said that it is gone.
func (t *Track) Old(now time.Time) bool {
	return t.Absent.Lasts() || now.Sub(t.Last.At) > t.Probe.allowed()
}

// CoreTracks returns the tracks of the cores that were heard, coldest first.
func (b *Batch) CoreTracks() []*Track {
	var out []*Track
	b.eachTrack(Core, func(t *Track) {
		if t.Samples == 0 {
			return
		}
		i := len(out)
		for i > 0 && out[i-1].Last.Value > t.Last.Value {
			i--
		}
		out = append(out[:i], append([]*Track{t}, out[i:]...)...)
	})
	return out
}

// TrackOf returns the first track of the placement that was heard, or nil.
func (b *Batch) TrackOf(p Placement) *Track {
	for _, t := range b.Tracks {
		if t.Probe.Placement == p && t.Samples > 0 {
			return t
		}
	}
	return nil
}

// A ChillOutlook is how the running leg of a chill looks.
type ChillOutlook struct {
	Leg int
	Forecast
	Limit time.Time // it has to be over by then
	// AirC is how cold the air would have to be from now on to make it, °C; NaN when
	// that is not known. HopelessAirC and colder is no air that anybody has.
	AirC float64
}

// HopelessAirC is colder than any household's freezer, °C (proposal).
const HopelessAirC = -30

// ChillForecast says when the running chill leg of the slowest core ends, and when
// it has to.
func (b *Batch) ChillForecast(now time.Time) (o ChillOutlook, ok bool) {
	for i := range chillClocks {
		t := b.slowestLeg(i, now)
		if t == nil || !t.Legs[i].End.IsZero() {
			continue
		}
		l := &t.Legs[i]
		if f, airC, ok := b.legForecast(t, l); ok {
			return ChillOutlook{Leg: i, Forecast: f, Limit: l.Start.Add(hoursOf(l.MaxHours)), AirC: airC}, true
		}
	}
	return ChillOutlook{}, false
}

// FridgeNow returns the slow sensor and the air of the cold place the batch is in,
// or outside one of the place it cured in. Either may be nil.
func (b *Batch) FridgeNow() (product, air *Track) {
	stage := b.Stage().Name
	if w := b.Stage().Where; w != WhereFridge && w != WhereFreezer {
		stage = StageCure
	}
	if list := b.speaking(Product, stage); len(list) > 0 {
		product = list[0]
	}
	for _, t := range b.speaking(Air, stage) {
		if product == nil || t.Probe.Place == product.Probe.Place {
			return product, t
		}
	}
	return product, nil
}

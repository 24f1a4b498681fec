package process

import (
	"time"

	"flitch/process/hold"
)

// An AirWatch follows the air of a cold place a minute at a time: what happened to
// it, and what that did to a product nobody measures.
type AirWatch struct {
	Fridge hold.FridgeWatch `json:"fridge"`
	Minute Bucket           `json:"minute"`
}

// follow puts believed samples of the air into their minutes.
func (p *Place) follow(t *PlaceProbe, news []Sample, found []Finding) []Finding {
	for _, s := range news {
		if !t.Air.Minute.Minute.Equal(s.At.Truncate(time.Minute)) {
			found = p.closeMinute(t, found)
		}
		t.Air.Minute.add(s)
	}
	return found
}

// closeAir closes the minutes of the air that are over.
func (p *Place) closeAir(now time.Time, found []Finding) []Finding {
	for i := range p.Probes {
		if t := &p.Probes[i]; t.Air != nil && t.Air.Minute.over(now) {
			found = p.closeMinute(t, found)
		}
	}
	return found
}

// closeMinute gives the watch one minute. Where no slow sensor tells of the product,
// the estimate does.
func (p *Place) closeMinute(t *PlaceProbe, found []Finding) []Finding {
	if t.Air.Minute.empty() {
		return found
	}
	at := t.Air.Minute.Minute
	p.noteFridge(t.Probe.Probe, t.Air.Fridge.Add(minuteOf(at), t.Air.Minute.take()))
	f := Finding{Measure: MeasureEstimate, Subject: p.Subject(), At: at, State: Over}
	if p.Occupied && !p.hasProduct() {
		f.State, f.Value = Known, 0
		if t.Air.Fridge.Alarm.On {
			f.Value = 1
		}
	}
	return append(found, f)
}

// hasProduct reports whether a slow sensor was ever heard here.
func (p *Place) hasProduct() bool {
	for i := range p.Probes {
		if t := &p.Probes[i]; t.Probe.Placement == Product && !t.Last.At.IsZero() {
			return true
		}
	}
	return false
}

// ProductEstimate is what lies in the place by its air: °C, the warm end of it, and
// the minutes until it is at its limit in the air of the last half hour. ok is false
// where no air was heard; reaches is false when it does not get there.
func (p *Place) ProductEstimate() (productC, highC, minutes float64, reaches, ok bool) {
	for i := range p.Probes {
		if t := &p.Probes[i]; t.Air != nil && t.Air.Fridge.Began {
			e := t.Air.Fridge.Product
			minutes, reaches = t.Air.Fridge.MinutesToLimit()
			return e.ProductC, e.HighC, minutes, reaches, true
		}
	}
	return 0, 0, 0, false, false
}

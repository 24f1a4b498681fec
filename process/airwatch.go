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

// put puts a believed sample of the air into its minute, and returns what the minute
// before told of. The slice is good until the next call.
func (w *AirWatch) put(s Sample) (told []hold.Event) {
	if !w.Minute.empty() && !w.Minute.Minute.Equal(s.At.Truncate(time.Minute)) {
		told = w.close()
	}
	w.Minute.add(s)
	return told
}

func (w *AirWatch) close() []hold.Event {
	at := minuteOf(w.Minute.Minute)
	return w.Fridge.Add(at, w.Minute.take())
}

// closeAir closes the minutes of the place's air that are over.
func (p *Place) closeAir(now time.Time, found []Finding) []Finding {
	for i := range p.Probes {
		if t := &p.Probes[i]; t.Air != nil && t.Air.Minute.over(now) {
			t.Air.close()
			found = p.findAir(t, found)
		}
	}
	return found
}

// findAir reports what the air says of a product that no slow sensor tells of.
func (p *Place) findAir(t *PlaceProbe, found []Finding) []Finding {
	f := Finding{Measure: MeasureEstimate, Subject: p.Subject(), At: t.Last.At, State: Over}
	if p.Occupied && !p.hasProduct() {
		f.State, f.Value = Known, 0
		if t.Air.Fridge.Alarm.On {
			f.Value = 1
		}
	}
	return append(found, f)
}

// followsK is how much colder than a slow sensor the air must be for the sensor to be on
// its way back (proposal: twice the noise of a usual probe).
const followsK = 0.2

// passing reports whether what warmed a slow sensor is over, as a door or a defrost is:
// the air about it is colder than it reads, so that it can only fall.
func (p *Place) passing(productC float64) bool {
	air := p.probe(Air)
	return air != nil && air.Last.Value <= productC-followsK
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

// A ProductEstimate is what lies in a cold place, by its air.
type ProductEstimate struct {
	ProductC float64 // °C
	HighC    float64 // the warm end, after gaps in the air
	LimitC   float64
	Minutes  float64 // until it is at the limit in the air of the last half hour
	Reaches  bool    // it gets there in this air
	Stale    bool    // the air was not seen for a while
}

// ProductEstimate returns the estimate by the first probe of the air that was heard.
func (p *Place) ProductEstimate() (e ProductEstimate, ok bool) {
	for i := range p.Probes {
		t := &p.Probes[i]
		if t.Air == nil || !t.Air.Fridge.Began {
			continue
		}
		product := t.Air.Fridge.Product
		e = ProductEstimate{ProductC: product.ProductC, HighC: product.HighC, LimitC: t.Air.Fridge.Limit(), Stale: product.Stale}
		e.Minutes, e.Reaches = t.Air.Fridge.MinutesToLimit()
		return e, true
	}
	return ProductEstimate{}, false
}

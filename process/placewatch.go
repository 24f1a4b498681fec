package process

import (
	"time"

	"flitch/process/hold"
)

const (
	doorRingMin = 10.0 // minutes of an open door, from which it counts only with a batch in warming air
	warmedK     = 1.0  // K the air is up since the door was opened (proposal)
)

// findPlace reports once a minute what the place looks like beside its product.
func (p *Place) findPlace(found []Finding) []Finding {
	say := func(m Measure, subject string, applies bool, value float64) {
		f := Finding{Measure: m, Subject: subject, At: p.Now, Value: value}
		if !applies {
			f.State = Over
		}
		found = append(found, f)
	}
	air := p.probe(Air)
	if air == nil {
		air = p.probe(Product)
	}
	for i := range p.Probes {
		t := &p.Probes[i]
		heard := t.heard(p.Now)
		subject := "probe " + t.Probe.Probe + " of " + p.Subject()
		switch t.Probe.Placement {
		case Door:
			say(MeasureDoor, p.Subject(), heard && t.Last.Value >= 0.5 && p.keepsCold(), p.doorMinutes(t, air))
		case Power:
			say(MeasureMains, p.Subject(), heard, p.offMinutes(t))
			say(MeasureMainsLate, p.Subject(), true, t.OffTo.Sub(t.OffFrom).Minutes())
			t.OffFrom, t.OffTo = time.Time{}, time.Time{}
		case Product, Air:
			say(MeasureFlat, subject, p.keepsCold() && heard && p.Occupied, t.Sieve.Run.hours(t.Sieve.Newest.At))
		}
		found = p.findCheck(t, found)
		say(MeasureClock, subject, heard, yes(t.BadClock))
	}
	found = p.findPairs(found)
	cold := p.probe(Product)
	if cold == nil {
		cold = air
	}
	say(MeasureFreezer, p.Subject(), p.Kind == WhereFreezer && cold != nil, valueOf(cold))
	if air != nil && air.Air != nil {
		found = p.findCompressor(&air.Air.Fridge, found)
	}
	return found
}

// findCompressor reports what the air tells of the compressor: for how long it has not
// cooled, and for how long it has not rested although it used to.
func (p *Place) findCompressor(fridge *hold.FridgeWatch, found []Finding) []Finding {
	now, stopped := minuteOf(p.Now), 0.0
	if fridge.Fail.Open {
		stopped = (now - fridge.Fail.From) / 60
	}
	found = append(found, Finding{Measure: MeasureCompressor, Subject: p.Subject(), At: p.Now, Value: stopped})
	rest := Finding{Measure: MeasureNoRest, Subject: p.Subject(), At: p.Now, State: Over}
	if minutes, ok := fridge.SinceRest(now); ok {
		rest.State, rest.Value = Known, minutes/60
	}
	return append(found, rest)
}

// probe is the first of the placement that was heard lately, or nil.
func (p *Place) probe(placement Placement) *PlaceProbe {
	for i := range p.Probes {
		if t := &p.Probes[i]; t.Probe.Placement == placement && t.heard(p.Now) {
			return t
		}
	}
	return nil
}

// heard reports whether the probe was heard lately.
func (t *PlaceProbe) heard(now time.Time) bool {
	return !t.Last.At.IsZero() && now.Sub(t.Heard) <= t.Probe.allowed() && !t.Absent.Lasts()
}

func valueOf(t *PlaceProbe) float64 {
	if t == nil {
		return 0
	}
	return t.Last.Value
}

// doorMinutes is how long the door has been open. From ten minutes on that counts only
// with a batch inside and the air warmer than when it was opened.
func (p *Place) doorMinutes(door, air *PlaceProbe) float64 {
	open := p.Now.Sub(door.Since).Minutes()
	warming := air != nil && air.Last.Value >= door.AirThen+warmedK
	if open >= doorRingMin && !(p.Occupied && warming) {
		return doorRingMin - 0.01
	}
	return open
}

func (p *Place) offMinutes(t *PlaceProbe) float64 {
	if t.Last.Value > 0 {
		return 0
	}
	return p.Now.Sub(t.Since).Minutes()
}

// wasOff notes what a late reading of the mains tells of.
func (t *PlaceProbe) wasOff(late Sample) {
	if t.Probe.Placement != Power || late.Value > 0 {
		return
	}
	if t.OffFrom.IsZero() || late.At.Before(t.OffFrom) {
		t.OffFrom = late.At
	}
	if late.At.After(t.OffTo) {
		t.OffTo = late.At
	}
}

// follow notes since when the probe has read what it reads.
func (t *PlaceProbe) follow(p *Place, s Sample) {
	// Nobody knows what a silent thermometer would have read.
	silent := t.Probe.Placement.IsTemperature() && s.At.Sub(t.Last.At) > t.Probe.allowed()
	if t.Last.At.IsZero() || s.Value != t.Last.Value || silent {
		t.Since = s.At
		if air := p.probe(Air); air != nil {
			t.AirThen = air.Last.Value
		}
	}
	t.Last = s
}

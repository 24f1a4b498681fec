package process

import "time"

// A Place is a fridge or a smoker as the daemon watches it, with or without a
// batch inside.
type Place struct {
	Name     string       `json:"name"`
	Kind     Where        `json:"kind"`
	Occupied bool         `json:"occupied"` // a batch is inside; set by the engine before each step
	Now      time.Time    `json:"now"`
	Probes   []PlaceProbe `json:"probes"`

	subject string
}

// A PlaceProbe is one probe of a place and what it last said.
type PlaceProbe struct {
	Probe   PlacedProbe `json:"probe"`
	Sieve   Sieve       `json:"sieve"`
	Air     *AirWatch   `json:"air,omitempty"` // of the air of a cold place
	Sent    Sample      `json:"sent,omitzero"` // newest sample as it was sent, also of a probe out of use
	Last    Sample      `json:"last"`          // newest believed sample by the time it holds
	Heard   time.Time   `json:"heard"`         // as of when it is known to measure
	GoodRun int         `json:"good_run"`

	Since   time.Time    `json:"since,omitzero"`     // it reads what it reads since then
	Step    float64      `json:"step,omitempty"`     // smallest change seen
	AirThen float64      `json:"air_then,omitempty"` // the air of the place at Since, °C
	OffFrom time.Time    `json:"off_from,omitzero"`  // and OffTo: without power, as readings told that came late and nobody was told of yet
	OffTo   time.Time    `json:"off_to,omitzero"`
	First   time.Time    `json:"first,omitzero"`   // first heard
	Checks  []ProbeCheck `json:"checks,omitempty"` // in the order they happened
	Vitals  []KnownVital `json:"vitals,omitempty"` // battery and signal
	Served  []string     `json:"served,omitempty"` // batches measured with it since its last good check

	Absent *Absence `json:"absent,omitempty"` // its device said that it is gone
	Asks   string   `json:"asks,omitempty"`   // what its device wants a person to know

	BadClock bool `json:"bad_clock,omitempty"` // its newest reading had a time that was not believed
}

// NewPlace makes a place that has heard nothing yet, as of now.
func NewPlace(name string, kind Where, probes []PlacedProbe, now time.Time) *Place {
	p := &Place{Name: name, Kind: kind, Now: now}
	for _, probe := range probes {
		t := PlaceProbe{Probe: probe, Heard: now}
		if probe.Placement == Air && p.keepsCold() {
			t.Air = new(AirWatch)
		}
		p.Probes = append(p.Probes, t)
	}
	return p
}

// Subject is the name the place goes by in findings and alarms.
func (p *Place) Subject() string {
	if p.subject == "" { // made once: it is wanted for every reading
		p.subject = string(p.Kind) + " " + p.Name
	}
	return p.subject
}

// StepPlace applies one entry of the input log to the place and appends what the
// alarm machine should look at. Late readings are ignored: they never ring.
func StepPlace(p *Place, in Input, found []Finding) []Finding {
	if in.At.After(p.Now) {
		p.Now = in.At
	}
	if in.Kind == InputCommand {
		return p.command(in.Command, found)
	}
	if in.Kind != InputReading {
		found = p.findSilence(p.closeAir(in.EventTime(), found))
		if in.Kind == InputTick {
			found = p.findPlace(found)
		}
		return found
	}
	if in.Reading.IsImported() {
		return found
	}
	for i := range p.Probes {
		if p.Probes[i].Probe.Probe == in.Reading.Probe {
			return p.reading(&p.Probes[i], in.Reading, found)
		}
	}
	return found
}

func (p *Place) reading(t *PlaceProbe, r Reading, found []Finding) []Finding {
	if r.Quality != Bad && r.Measured.After(t.Sent.At) {
		t.Sent = Sample{r.Measured, r.Value}
	}
	sample := Sample{r.Measured, r.Value} // as sent: what is a code or a jump is so of what was sent
	r = Calibrated(t.Checks, r)
	if r.Quality == Bad {
		t.GoodRun = 0
		return found
	}
	t.BadClock = r.Quality == Suspect && !r.Device.IsZero() && !r.Device.Equal(r.Measured)
	if t.Sieve.passed(sample) {
		t.hear(r)
		t.wasOff(sample)
		return found
	}
	news, refused := t.Sieve.take(sample, t.Probe.Placement)
	if n := len(refused); n > 0 && refused[n-1].At.Equal(sample.At) {
		t.GoodRun = 0
		return found
	}
	t.hear(r)
	if len(news) == 0 {
		return found
	}
	for i := range news {
		news[i] = calibrated(t.Checks, news[i])
	}
	for _, s := range news {
		t.follow(p, s)
		if r.stale(t.Probe.allowed()) {
			t.wasOff(s)
		}
	}
	if t.Air != nil {
		for _, s := range news {
			t.Air.put(s)
		}
		found = p.findAir(t, found)
	}
	if r.stale(t.Probe.allowed()) || t.Probe.Placement != Product || p.Kind != WhereFridge {
		return found
	}
	product := Finding{Measure: MeasureProduct, Subject: p.Subject(), At: r.Measured, Value: r.Value}
	if p.passing(r.Value) {
		product.State = Falling
	}
	found = append(found, product)
	inUse := Finding{Measure: MeasureOccupied, Subject: p.Subject(), At: r.Measured, Value: r.Value, State: Over}
	if p.Occupied {
		inUse.State = Known
	}
	return append(found, inUse)
}

// hear notes the arrival of a reading that may be believed.
func (t *PlaceProbe) hear(r Reading) {
	at := r.heard(t.Probe.allowed())
	if at.Sub(t.Heard) > silentAfter {
		t.GoodRun = 0
	}
	t.GoodRun++
	t.Absent = t.Absent.over(r, t.Probe.allowed())
	if t.First.IsZero() {
		t.First = r.Received
	}
	if at.After(t.Heard) {
		t.Heard = at
	}
}

func (p *Place) keepsCold() bool { return p.Kind == WhereFridge || p.Kind == WhereFreezer }

// silentAfter is when a fridge probe counts as silent: alarm table B2.
const silentAfter = 30 * time.Minute

// findSilence reports how long each probe of an occupied fridge has been silent,
// in minutes. Two believed readings in a row end a silence.
func (p *Place) findSilence(found []Finding) []Finding {
	if !p.keepsCold() {
		return found
	}
	for i := range p.Probes {
		t := &p.Probes[i]
		if t.Probe.ReadOut || t.Probe.Placement != Product && t.Probe.Placement != Air {
			continue
		}
		f := Finding{Measure: MeasureSilenceCold, Subject: "probe " + t.Probe.Probe + " of " + p.Subject(), At: p.Now, State: Over}
		if p.Occupied {
			f.State = Known
			f.Value = p.Now.Sub(t.Heard).Minutes()
			if t.GoodRun == 1 && f.Value < silentAfter.Minutes() {
				f.State = Unknown
			}
		}
		found = append(found, f)
		found = t.Absent.find(found, MeasureGoneCold, f, t.GoodRun)
	}
	return found
}

// Has reports whether the named probe is one of the place's.
func (p *Place) Has(probe string) bool {
	for i := range p.Probes {
		if p.Probes[i].Probe.Probe == probe {
			return true
		}
	}
	return false
}

// Recall takes over what the stored place last heard of the probes that are still
// configured.
func (p *Place) Recall(stored *Place) {
	p.Now = stored.Now
	for i := range p.Probes {
		for _, s := range stored.Probes {
			if s.Probe.Probe != p.Probes[i].Probe.Probe {
				continue
			}
			fresh := p.Probes[i] // as configured now
			p.Probes[i] = s
			p.Probes[i].Probe = fresh.Probe
			if fresh.Air == nil || s.Air == nil {
				p.Probes[i].Air = fresh.Air
			}
		}
	}
}

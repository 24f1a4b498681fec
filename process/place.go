package process

import (
	"strings"
	"time"

	"flitch/ingest/signal"
)

// A Place is a fridge or a smoker as the daemon watches it, with or without a
// batch inside.
type Place struct {
	Name     string       `json:"name"`
	Kind     Where        `json:"kind"`
	Occupied bool         `json:"occupied"` // a batch is inside; set by the engine before each step
	Now      time.Time    `json:"now"`
	Probes   []PlaceProbe `json:"probes"`
	Pairs    []Pair       `json:"pairs,omitempty"` // probes of one kind

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
	Flagged []Flagged    `json:"flagged,omitempty"`  // readings that were left out, and why
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
		t.Sent = Sample{r.Measured, t.Sieve.Unit.Converted(Sample{r.Measured, r.Value})}
	}
	one := judge(r, t.Probe.Placement) // as sent: what is a code or a jump is so of what was sent
	r = Calibrated(t.Checks, r)
	if r.Reason == OutOfUse {
		t.GoodRun = 0
		t.Flagged = flag(t.Flagged, signal.OutOfUse, one.At, one.At, 1)
		return found
	}
	if one.fault == 0 {
		t.BadClock = r.Quality == Suspect && !r.Device.IsZero() && !r.Device.Equal(r.Measured)
		if t.Sieve.passed(one.Sample) {
			t.hear(r)
			t.wasOff(one.Sample)
			return found
		}
	}
	asked := t.Sieve.Unit.Open()
	news, refused := t.Sieve.take(one, t.Probe, p.rateLimit(t))
	for _, s := range refused {
		t.Flagged = flag(t.Flagged, s.fault, s.At, s.At, 1)
	}
	if asked || t.Sieve.Unit.Open() {
		found = p.findUnit(t, found)
	}
	if n := len(refused); n > 0 && refused[n-1].At.Equal(one.At) {
		t.GoodRun = 0
		return found
	}
	t.hear(r)
	counted := false
	for _, s := range news {
		s.Sample = calibrated(t.Checks, s.Sample)
		counted = p.believe(t, s, r.stale(t.Probe.allowed())) || counted
	}
	if !counted {
		return found
	}
	if t.Air != nil {
		found = p.findAir(t, found)
	}
	if r.stale(t.Probe.allowed()) {
		return found
	}
	return p.findProduct(t, found)
}

// rateLimit is how fast a probe of the place can change, K/min. What a core may do the
// batch knows, whose meat it is in.
func (p *Place) rateLimit(t *PlaceProbe) float64 {
	if t.Probe.Placement == Core {
		return 0
	}
	return signal.RateLimit(string(t.Probe.Placement))
}

// believe notes a sample that stands by itself, and reports whether it may be believed
// beside the ones before it.
func (p *Place) believe(t *PlaceProbe, s judged, stale bool) bool {
	if s.fault == signal.Rate {
		t.Flagged = flag(t.Flagged, signal.Rate, s.At, s.At, 1)
		return false
	}
	t.follow(p, s.Sample)
	if stale {
		t.wasOff(s.Sample)
	}
	drifts := p.drifted(t.Probe.Probe)
	if p.stuck(t) {
		t.Flagged = flag(t.Flagged, signal.Flat, s.At, s.At, 1)
	} else {
		believedNow(t.Flagged, drifts)
	}
	if drifts { // the warmer of the two still rings: which is wrong nobody knows
		t.Flagged = flag(t.Flagged, signal.PairDrift, s.At, s.At, 1)
	}
	if t.Air != nil && !p.stuck(t) {
		t.Air.put(s.Sample)
	}
	return true
}

// stuck reports a probe of a cold place that has read the same for too long.
func (p *Place) stuck(t *PlaceProbe) bool {
	return p.keepsCold() && (t.Probe.Placement == Product || t.Probe.Placement == Air) && t.Sieve.Run.stuckCold(t.Last.At)
}

// findProduct reports what the slow sensor of a fridge reads; nothing is known of what
// stands still.
func (p *Place) findProduct(t *PlaceProbe, found []Finding) []Finding {
	if t.Probe.Placement != Product || p.Kind != WhereFridge {
		return found
	}
	f := Finding{Measure: MeasureProduct, Subject: p.Subject(), At: t.Last.At, Value: t.Last.Value}
	if p.stuck(t) {
		f.State = Unknown
	}
	inUse := f
	if f.State == Known && p.passing(f.Value) {
		f.State = Falling
	}
	inUse.Measure = MeasureOccupied
	if !p.Occupied {
		inUse.State = Over
	}
	return append(found, f, inUse)
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
		if !r.stale(t.Probe.allowed()) {
			t.Heard = at // also from before this start: then flitch was killed before it noted what it heard
		}
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

// HasAll reports whether the probes named as in a subject are the place's: "probe a", "probes a and
// b". Anything else is no list of probes, and is there with the place.
func (p *Place) HasAll(named string) bool {
	if probe, ok := strings.CutPrefix(named, "probe "); ok {
		return p.Has(probe)
	}
	pair, ok := strings.CutPrefix(named, "probes ")
	if !ok {
		return true
	}
	for i := range p.Probes {
		if second, ok := strings.CutPrefix(pair, p.Probes[i].Probe.Probe+" and "); ok && p.Has(second) {
			return true
		}
	}
	return false
}

// Carry takes over what is known of a probe itself, wherever it measured: its checks, what it was
// found to send, and since when it is used.
func (p *Place) Carry(stored *Place, probe string) {
	for _, s := range stored.Probes {
		for i := range p.Probes {
			t := &p.Probes[i]
			if s.Probe.Probe != probe || t.Probe.Probe != probe {
				continue
			}
			t.Sieve.Unit, t.First, t.Checks, t.Vitals, t.Served = s.Sieve.Unit, s.First, s.Checks, s.Vitals, s.Served
		}
	}
}

// Recall takes over what the stored place last heard of the probes that are still
// configured.
func (p *Place) Recall(stored *Place) {
	p.Now = stored.Now
	for _, d := range stored.Pairs {
		if p.Has(d.A) && p.Has(d.B) {
			p.Pairs = append(p.Pairs, d)
		}
	}
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

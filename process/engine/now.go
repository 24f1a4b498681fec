package engine

import (
	"fmt"
	"strings"
	"time"

	"flitch/process"
)

// now is what was measured, in words, for the alarms whose own number does not tell it:
// a yes or no, or a difference.
func (h *House) now(entry, subject string) string {
	if b := h.batch(batchOf(subject)); b != nil {
		return h.nowOf(b, entry, subject)
	}
	_, about, ok := strings.Cut(subject, " of ")
	if !ok {
		about = subject
	}
	for _, p := range h.places {
		if p.Subject() == about {
			return h.nowIn(p, entry, subject)
		}
	}
	return ""
}

// nowOf is what was measured of a batch.
func (h *House) nowOf(b *process.Batch, entry, subject string) string {
	stage := b.Stage()
	chamber := h.told(b, "chamber", b.TrackOf(process.Chamber))
	switch entry {
	case "H1", "H2", "H3":
		return against(chamber, "set point", stage.SetC, h.policy.Temperature)
	case "H4":
		return joined(chamber, h.told(b, "room", b.TrackOf(process.Ambient)))
	case "H5", "H6":
		return joined(h.told(b, "core", b.SlowestCore()), chamber)
	case "H7", "H8":
		return against(h.told(b, "core", b.SlowestCore()), "target", stage.CoreC, h.policy.Temperature)
	case "H9":
		return against(h.told(b, "core", b.HottestCore()), "target", stage.CoreC, h.policy.Temperature)
	case "H10", "B3":
		if t := track(b, subject); t != nil && t.Probe.Placement == process.Core {
			return joined(h.told(b, "core", t), chamber)
		}
		return chamber
	case "H11":
		return h.jumped(b, track(b, subject), chamber)
	case "H12":
		return h.apart(b)
	case "H13":
		return h.moist(b)
	case "B1", "B1g":
		return h.lastHeard(b.Now, heardOf(track(b, subject)))
	case "L1", "L2", "L3":
		return h.leg(b, entry, subject)
	case "C9":
		return humidity(b)
	case "K4":
		return dosed(b, subject)
	}
	return ""
}

// nowIn is what was measured in a place.
func (h *House) nowIn(p *process.Place, entry, subject string) string {
	air := h.toldIn(p, "air", p.ProbeOf(process.Air))
	switch entry {
	case "C3":
		if e, ok := p.ProductEstimate(); ok {
			return joined(air, "the product by it about "+h.policy.Temperature(e.ProductC))
		}
		return air
	case "C7", "C7r":
		return air
	case "C6", "B5":
		return joined(h.toldIn(p, "product", p.ProbeOf(process.Product)), air)
	case "B2", "B2g":
		return h.lastHeard(p.Now, heardIn(h.probe(subject)))
	case "B2u":
		if t := h.probe(subject); t != nil && t.Sieve.Unit.Open() {
			return t.Sieve.Unit.WordsIn(h.policy.Temperature)
		}
	case "B9d":
		return h.pairReads(p, subject)
	case "B3f":
		return h.toldIn(p, "reads", h.probe(subject))
	case "B4":
		return vital(h.probe(subject), process.VitalBattery)
	case "B4s":
		return vital(h.probe(subject), process.VitalSignal)
	}
	return ""
}

// told is the newest value of a temperature, with its time when it is old.
func (h *House) told(b *process.Batch, what string, t *process.Track) string {
	if t == nil || t.Last.At.IsZero() {
		return ""
	}
	return h.sampled(what, t.Last, b.Now, t.Old(b.Now))
}

func (h *House) toldIn(p *process.Place, what string, t *process.PlaceProbe) string {
	if t == nil || t.Last.At.IsZero() {
		return ""
	}
	return h.sampled(what, t.Last, p.Now, t.Old(p.Now))
}

func (h *House) sampled(what string, s process.Sample, now time.Time, old bool) string {
	text := what + " " + h.policy.Temperature(s.Value)
	if old {
		text += " at " + h.policy.Clock(s.At, now)
	}
	return text
}

// against puts what it should be beside a value.
func against(value, what string, should float64, words func(float64) string) string {
	if value == "" || should == 0 {
		return value
	}
	return value + ", " + what + " " + words(should)
}

func joined(parts ...string) string {
	var said []string
	for _, p := range parts {
		if p != "" {
			said = append(said, p)
		}
	}
	return strings.Join(said, ", ")
}

// track is the probe of a batch that a subject such as "probe core-1 of batch OL-31-04"
// names, or nil.
func track(b *process.Batch, subject string) *process.Track {
	name, _, _ := strings.Cut(strings.TrimPrefix(subject, "probe "), " of ")
	for _, t := range b.Tracks {
		if t.Probe.Probe == name {
			return t
		}
	}
	return nil
}

// heard is when a probe was heard last, and what it said; never, when it has no value.
type heard struct {
	at   time.Time
	last process.Sample
}

func heardOf(t *process.Track) heard {
	if t == nil || t.Samples == 0 {
		return heard{}
	}
	return heard{t.Heard, t.Last}
}

func heardIn(t *process.PlaceProbe) heard {
	if t == nil || t.Last.At.IsZero() {
		return heard{}
	}
	return heard{t.Heard, t.Last}
}

func (h *House) lastHeard(now time.Time, last heard) string {
	if last.last.At.IsZero() {
		return "never heard so far"
	}
	return fmt.Sprintf("last heard at %s with %s", h.policy.Clock(last.at, now), h.policy.Temperature(last.last.Value))
}

// noLongerNow is from when on a reading of a probe that left the meat is told with its
// time (proposal).
const noLongerNow = 5 * time.Minute

// jumped is what a probe reads that left the meat, and what the meat was before.
func (h *House) jumped(b *process.Batch, t *process.Track, chamber string) string {
	if t == nil || t.Watch == nil || !t.Watch.Cook.Out.Open {
		return joined(h.told(b, "core", t), chamber)
	}
	out := t.Watch.Cook.Out
	from := time.Unix(int64(out.From*60), 0)
	reads := "reads " + h.policy.Temperature(t.Watch.Cook.Away)
	if silent := b.Now.Sub(t.Heard); silent > noLongerNow {
		reads = "read " + h.policy.Temperature(t.Watch.Cook.Away) + " at " + h.policy.Clock(t.Heard, b.Now)
	}
	return joined(fmt.Sprintf("%s, was %s before %s", reads, h.policy.Temperature(out.BeforeC), h.policy.Clock(from, b.Now)), chamber)
}

// apart are the coldest and the warmest core.
func (h *House) apart(b *process.Batch) string {
	var ends []*process.Track
	for _, t := range b.CoreTracks() {
		if !t.Doubted() && !t.Old(b.Now) {
			ends = append(ends, t)
		}
	}
	if len(ends) < 2 {
		return ""
	}
	cold, warm := ends[0], ends[len(ends)-1]
	return joined(h.told(b, warm.Probe.Probe, warm), h.told(b, cold.Probe.Probe, cold))
}

// moist is the wet bulb or the humidity, and what the plan asks.
func (h *House) moist(b *process.Batch) string {
	t, least := b.Moist()
	switch {
	case t == nil:
		return ""
	case t.Probe.Placement == process.Humidity:
		return fmt.Sprintf("humidity %.0f %%, the plan asks %.0f %%", t.Last.Value, least)
	}
	wet := against(h.told(b, "wet bulb", t), "the plan asks", least, h.policy.Temperature)
	return joined(wet, h.told(b, "chamber", b.TrackOf(process.Chamber)))
}

func humidity(b *process.Batch) string {
	t, rule := b.TrackOf(process.Humidity), b.Plan.Drying
	if t == nil {
		return ""
	}
	return fmt.Sprintf("humidity %.0f %%, band %.0f to %.0f %%", t.Last.Value, rule.RHLow, rule.RHHigh)
}

// leg is the warmest core of a chill, and by when it has to be where.
func (h *House) leg(b *process.Batch, entry, subject string) string {
	cores := b.CoreTracks()
	if len(cores) == 0 {
		return ""
	}
	t := cores[len(cores)-1]
	text := h.told(b, "core", t)
	for i := range t.Legs {
		if l := &t.Legs[i]; entry != "L1" && strings.HasPrefix(subject, process.ChillName(i)) && !l.Start.IsZero() {
			by := l.Start.Add(time.Duration(l.MaxHours * float64(time.Hour)))
			text += fmt.Sprintf(", to be at %s by %s", h.policy.Temperature(l.ToC), h.policy.Clock(by, b.Now))
		}
	}
	return text
}

// dosed is what was weighed and asked for a piece, and which checks that fails.
func dosed(b *process.Batch, subject string) string {
	piece, _, _ := strings.Cut(strings.TrimPrefix(subject, "piece "), " of batch ")
	e := b.Dose(piece)
	if e == nil {
		return ""
	}
	return fmt.Sprintf("%.4g g weighed, %.4g g asked, %.4g ppm", e.CureG, e.AskedG, e.PPM)
}

func vital(t *process.PlaceProbe, kind string) string {
	if t == nil {
		return ""
	}
	if v := t.Vital(kind); v != nil {
		return v.Words()
	}
	return ""
}

package process

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"flitch/ingest/signal"
)

// unitK is how near a reading in the other unit has to be to the one before it, K
// (proposal).
const unitK = 2.0

// Turned is a step to another unit of temperature, as °C show it.
type Turned int8

// The two ways a sensor can be turned over.
const (
	ToFahrenheit Turned = 1  // it was read as °C and now sends °F: 3.8 becomes 38.8
	ToCelsius    Turned = -1 // it was read as °F and now sends °C: 3.8 becomes -15.7
)

// as is what a temperature looks like after the step, and back what it was before it.
func (w Turned) as(c float64) float64 {
	if w == ToFahrenheit {
		return c*1.8 + 32
	}
	return (c - 32) / 1.8
}

func (w Turned) back(c float64) float64 { return (-w).as(c) }

// unit is the one it sends after the step.
func (w Turned) unit() string {
	if w == ToFahrenheit {
		return "F"
	}
	return "C"
}

// A UnitAsk is the question whether a sensor was set to another unit, and what a
// person answered. While it stands open, nothing the probe says is believed: a guess
// would be wrong by 30 degrees.
type UnitAsk struct {
	Since  time.Time `json:"since,omitzero"` // first reading after the step; zero: nothing is asked
	Way    Turned    `json:"way,omitempty"`
	Before float64   `json:"before,omitempty"` // °C
	Newest Sample    `json:"newest,omitzero"`  // as it came, °C

	Turns []UnitTurn `json:"turns,omitempty"` // what people said of it, in order of time
	Sure  time.Time  `json:"sure,omitzero"`   // up to then a person has said that its readings are as they came
}

// A UnitTurn is the step that is taken back from a time on, by a person's word.
type UnitTurn struct {
	From time.Time `json:"from"`
	Was  Turned    `json:"was,omitempty"` // 0: none, it was turned back
}

// maxTurns bounds what is kept of one sensor; the oldest go.
const maxTurns = 20

// Known reports whether anything is asked or was said.
func (u UnitAsk) Known() bool { return u.Open() || len(u.Turns) > 0 || !u.Sure.IsZero() }

// Open reports whether the question stands.
func (u UnitAsk) Open() bool { return !u.Since.IsZero() }

// WordsIn is what was seen, with temperatures as temp writes °C.
func (u UnitAsk) WordsIn(temp func(c float64) string) string {
	return fmt.Sprintf("read %s, and now %s: the step that another unit makes", temp(u.Before), temp(u.Newest.Value))
}

// at is the step that is taken back from a reading of a time.
func (u *UnitAsk) at(t time.Time) (was Turned) {
	for _, turn := range u.Turns {
		if !t.Before(turn.From) {
			was = turn.Was
		}
	}
	return was
}

// Converted is the value of a reading in °C, by what a person has said of the sensor.
func (u *UnitAsk) Converted(s Sample) float64 {
	if was := u.at(s.At); was != 0 {
		return was.back(s.Value)
	}
	return s.Value
}

// turn adds what a person said, at its time.
func (u *UnitAsk) turn(from time.Time, was Turned) {
	i := len(u.Turns)
	for i > 0 && u.Turns[i-1].From.After(from) {
		i--
	}
	u.Turns = slices.Insert(slices.Clone(u.Turns), i, UnitTurn{from, was}) // a copy: a stored one may share it
	u.Turns = u.Turns[max(0, len(u.Turns)-maxTurns):]
}

// otherUnit says why a reading is not believed: it follows a step that nothing in a
// cold place makes, to just the number that another unit would show. It asks, and goes
// on asking until a person answers or the sensor is turned back. Nothing of a fire is
// doubted so.
func (v *Sieve) otherUnit(r refusal, p Placement) string {
	u := &v.Unit
	if p != Product && p != Air || r.fault == signal.Missing || r.fault == signal.Sentinel {
		return ""
	}
	if u.Open() && !r.At.Before(u.Since) {
		switch {
		case r.fault != 0 && math.Abs(u.Way.back(r.Value)-u.Way.back(u.Newest.Value)) > signal.SpikeLimit(string(p)):
			// Out of range, and not as the other unit would go on: nothing is seen from it.
		case u.turnedBack(r.Value):
			u.Since, u.Way = time.Time{}, 0
			return ""
		default:
			u.Newest = r.Sample
		}
		return u.why()
	}
	before := v.Newest.Value
	if v.Newest.At.IsZero() || !r.At.After(u.Sure) || math.Abs(r.Value-before) <= signal.SpikeLimit(string(p)) {
		return ""
	}
	for _, way := range [...]Turned{ToFahrenheit, ToCelsius} {
		if math.Abs(way.back(r.Value)-before) <= unitK {
			u.Since, u.Way, u.Before, u.Newest = r.At, way, before, r.Sample
			return u.why()
		}
	}
	return ""
}

func (u *UnitAsk) why() string {
	return "as the reading before it in degrees " + map[Turned]string{ToFahrenheit: "Fahrenheit", ToCelsius: "Celsius"}[u.Way] + ": look at the unit of the sensor"
}

// turnedBack reports the step back, from the newest reading or to the one before it all.
func (u *UnitAsk) turnedBack(c float64) bool {
	newest := u.Newest.Value
	step := math.Abs(c-newest) > math.Abs(c-u.Way.back(newest))
	return step && (math.Abs(c-u.Way.back(newest)) <= unitK || math.Abs(c-u.Before) <= unitK)
}

// UnitSaid is the answer to the question.
type UnitSaid struct {
	Probe string    `json:"probe"`
	Unit  string    `json:"unit"`          // "F" or "C": what the sensor sends now
	From  time.Time `json:"from,omitzero"` // since when; zero: since the step
	Was   Turned    `json:"was,omitempty"` // the step it answers; filled in before it is logged
}

// A UnitKnown is what is asked or was answered of a probe when a batch begins, and what it
// read then: the step may come with the batch's first reading.
type UnitKnown struct {
	Probe  string  `json:"probe"`
	Ask    UnitAsk `json:"ask,omitzero"`
	Newest Sample  `json:"newest,omitzero"`
}

// CheckUnit refuses an answer that nobody asked for, or that cannot be. t is the probe it
// names, nil when there is none.
func CheckUnit(t *PlaceProbe, c Command, now time.Time) error {
	switch said := c.Unit; {
	case strings.TrimSpace(c.By) == "":
		return refuse("nobody signed", "add your initials: --by T.V.")
	case said == nil || said.Probe == "":
		return refuse("a unit without its probe", "flitch probe unit alder-slow F")
	case said.Unit != "F" && said.Unit != "C":
		return refuse(fmt.Sprintf("%q is no unit of temperature", said.Unit), "say F or C: what the sensor sends now")
	case t == nil:
		return nil
	case !t.Sieve.Unit.Open():
		return refuse(fmt.Sprintf("nobody asks for the unit of probe %s: it has made no such step", said.Probe), "a sensor that always sent another unit is set right in the configuration: unit = \"F\"")
	case said.From.After(now.Add(ahead)):
		return refuse(fmt.Sprintf("%s has not happened yet", said.From.Format(time.RFC3339)), "name a time that has passed, or leave it out")
	case !said.From.IsZero() && said.From.Before(t.Sieve.Unit.Since):
		return refuse(fmt.Sprintf("probe %s made the step at %s, after the time you named", said.Probe, t.Sieve.Unit.Since.Format(time.RFC3339)), "leave the time out: it counts from the step")
	}
	return nil
}

// CompleteUnit fills in what the answer is to, so that it reads the same whenever the
// history is counted.
func CompleteUnit(t *PlaceProbe, c Command) Command {
	said := *c.Unit
	said.Was = t.Sieve.Unit.Way
	c.At = said.From
	if c.At.IsZero() || !said.Turned() {
		c.At = t.Sieve.Unit.Since
	}
	c.Unit = &said
	return c
}

// Turned reports whether the sensor was turned over.
func (s UnitSaid) Turned() bool { return s.Unit == s.Was.unit() }

// Words is the answer in words.
func (s UnitSaid) Words() string {
	if s.Turned() {
		return fmt.Sprintf("sends °%s now: read as that from then on", s.Unit)
	}
	return fmt.Sprintf("sends °%s as before: its readings stand as they came", s.Unit)
}

// answer takes a person's word: from the time named on the readings are converted, or
// are what they say.
func (v *Sieve) answer(c Command) {
	u := &v.Unit
	switch {
	case c.Unit.Turned() && u.at(c.At) == -c.Unit.Was: // turned back to what it was at first
		u.turn(c.At, 0)
	case c.Unit.Turned():
		u.turn(c.At, c.Unit.Was)
	default:
		u.Sure = c.Typed
		if u.Open() && u.Newest.At.After(v.Newest.At) {
			v.Newest, v.Held = u.Newest, Sample{}
		}
	}
	u.Since, u.Way = time.Time{}, 0
}

// answerUnit gives an answer to the probe it is of. What the probe said since is not
// counted yet: the batch is recounted.
func (b *Batch) answerUnit(c Command) {
	t := b.track(c.Unit.Probe)
	if t == nil {
		return
	}
	t.Sieve.answer(c)
	b.NeedsRecount = true
}

// findUnit reports whether it is asked which unit a probe of the place sends.
func (p *Place) findUnit(t *PlaceProbe, found []Finding) []Finding {
	f := Finding{Measure: MeasureUnit, Subject: "probe " + t.Probe.Probe + " of " + p.Subject(), At: p.Now}
	f.Value = yes(t.Sieve.Unit.Open())
	return append(found, f)
}

package scenario

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/process"
)

// An Event is what a person did, or what flitch said of itself.
type Event struct {
	At     time.Duration
	Kind   string // stage, turned, weighed, dosed, checked, counted, hand-reading, note, acknowledged, close, door, lost, back, sensor, battery, signal, shelved, out-of-service, duty
	Name   string // of the stage, the alarm, the probe of the door or the sensor, the part that was lost
	Of     process.Placement
	Pieces []string
	Value  Quantity
	Dose   DoseSaid // of dosed
	Text   string
	Word   string        // of sensor: gone, asks or content
	Low    Quantity      // of battery and signal: at or below it is low
	About  string        // of shelved: the place, the batch, or the whole of what the alarm is about
	Until  time.Duration // of shelved and duty
	By     string        // empty: who the head names
	Typed  time.Duration // zero: at once
}

const eventExample = "stage, turned, weighed, dosed, checked, counted, hand-reading, note, acknowledged, shelved, out-of-service, duty, door, sensor, battery, signal, close, lost or back, or reading or spike, behind the time"

// event reads what comes after a time.
func (p *parser) event(at time.Duration) (Item, error) {
	e := Event{At: at}
	var err error
	if e.Kind, err = p.next("what happened", eventExample); err != nil {
		return nil, err
	}
	if err := p.eventRest(&e); err != nil {
		return nil, err
	}
	if e.isSelf() {
		return e, nil
	}
	if p.is("by") {
		if e.By, err = p.free("who", "by M.O."); err == nil && (strings.TrimSpace(e.By) == "" || len(e.By) > 40) {
			err = wrong("by M.O.", "nobody signed")
		}
	}
	if err == nil && e.Until == 0 && p.is("typed") {
		e.Typed, err = p.until(at, "typed 2/09:00")
	}
	return e, err
}

func (p *parser) eventRest(e *Event) (err error) {
	switch e.Kind {
	case "stage":
		if e.Name, err = p.name("a stage", "20:00 stage smoke"); err == nil {
			e.Text, err = p.why()
		}
	case "turned":
		e.Pieces, err = p.pieces()
	case "weighed":
		if e.Pieces, err = p.pieces(); err == nil {
			e.Of = process.Weight
			e.Value, err = p.value(e.Of, "08:00 weighed A 1890g")
		}
	case "dosed":
		err = p.dosed(e)
	case "checked":
		err = p.checked(e)
	case "hand-reading":
		err = p.handReading(e)
	case "counted":
		err = p.counted(e)
	case "note":
		e.Text, err = p.free("the note", `03:31 note "relit"`)
		if err == nil && (strings.TrimSpace(e.Text) == "" || len(e.Text) > 2000) {
			err = wrong(`03:31 note "relit"`, "a note of 1 to 2000 characters")
		}
	case "acknowledged":
		if next := p.peek(); alarmName.MatchString(next) {
			e.Name, err = next, p.want(next, "")
		}
	case "close":
		e.Text, err = p.why()
	case "door":
		err = p.door(e)
	case "sensor":
		err = p.sensor(e)
	case process.VitalBattery, process.VitalSignal:
		err = p.vital(e)
	case "shelved", "out-of-service":
		err = p.shelf(e)
	case "duty":
		err = p.duty(e)
	case "lost", "back":
		e.Name, err = p.free("what", e.Kind+" broker")
		if err == nil && (strings.TrimSpace(e.Name) == "" || len(e.Name) > 60) {
			err = wrong(e.Kind+" broker, disk or \"phone path ...\"", "nothing is %s", e.Kind)
		}
		if err == nil && e.Kind == "lost" && p.is("until") { // what is known to end: a certificate
			e.Until, err = p.until(e.At, `22:00 lost "certificate of the page" until 12/09:00`)
		}
	default:
		err = wrong(eventExample, "%q is nothing that happens", e.Kind)
	}
	return err
}

// why takes a reason in quotation marks, if there is one.
func (p *parser) why() (string, error) {
	if len(p.left) == 0 || !p.left[0].quoted {
		return "", nil
	}
	return p.free("why", "")
}

// pieces takes names of pieces for as long as there are any.
func (p *parser) pieces() ([]string, error) {
	var names []string
	for p.hasPiece(p.peek()) {
		name, err := p.next("a piece", "")
		if err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	return names, nil
}

func (p *parser) counted(e *Event) error {
	text, err := p.next("how many", "17:20 counted 6")
	if err != nil {
		return err
	}
	n, err := strconv.ParseUint(text, 10, 16)
	if err != nil {
		return wrong("17:20 counted 6", "%q is not a number of pieces", text)
	}
	e.Value = Quantity{Number: float64(n)}
	return nil
}

const handExample = "03:20 hand-reading core A 61.5C, or hand-reading ph 5.2"

func (p *parser) handReading(e *Event) error {
	of, err := p.next("what was measured", handExample)
	if err != nil {
		return err
	}
	e.Of = process.Placement(of)
	if e.Of != process.PH && !(slices.Contains(process.Placements(), e.Of) && e.Of.IsTemperature()) {
		return wrong(handExample, "%q is not measured by hand", of)
	}
	if e.Pieces, err = p.pieces(); err != nil {
		return err
	}
	e.Value, err = p.value(e.Of, handExample)
	return err
}

// checked reads the check of a probe in ice.
func (p *parser) checked(e *Event) error {
	const example = "09:30 checked alder-slow ice 0.3C"
	probe, err := p.placed()
	if err != nil {
		return err
	}
	if e.Name, e.Of = probe.Probe, probe.Placement; !e.Of.IsTemperature() {
		return wrong("a probe of a temperature", "probe %s is not held into ice", e.Name)
	}
	if err := p.want("ice", example); err != nil {
		return err
	}
	e.Value, err = p.value(e.Of, example)
	return err
}

func (p *parser) door(e *Event) error {
	probe, err := p.placed()
	if err != nil {
		return err
	}
	if e.Name, e.Of = probe.Probe, probe.Placement; e.Of != process.Door {
		return wrong("a probe of a door", "probe %s is not of a door", e.Name)
	}
	e.Value, err = p.value(e.Of, "03:00 door alder-door open")
	return err
}

func (e Event) text(c clock) string {
	if own := e.ofSensor() + e.ofPeople(c); own != "" {
		return c.text(e.At) + " " + own
	}
	parts := []string{c.text(e.At), e.Kind}
	switch e.Kind {
	case "lost", "back":
		parts = append(parts, quoteIf(e.Name))
	case "hand-reading":
		parts = append(parts, string(e.Of))
	default:
		if e.Name != "" {
			parts = append(parts, e.Name)
		}
	}
	parts = append(parts, e.Pieces...)
	if e.Kind == "checked" {
		parts = append(parts, "ice")
	}
	if e.Of != "" || e.Kind == "counted" {
		parts = append(parts, e.Value.String())
	}
	parts = append(parts, e.Dose.words()...)
	if e.Text != "" {
		parts = append(parts, strconv.Quote(e.Text))
	}
	if e.Until > 0 {
		parts = append(parts, "until", c.untilText(e.Until, e.At))
	}
	if e.By != "" {
		parts = append(parts, "by", quoteIf(e.By))
	}
	if e.Typed > 0 {
		parts = append(parts, "typed", c.untilText(e.Typed, e.At))
	}
	return strings.Join(parts, " ")
}

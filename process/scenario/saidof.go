package scenario

import (
	"strconv"
	"strings"

	"flitch/process"
)

// What a sensor says of itself: that it goes, that it wants a person, what is left of its
// battery and how well its radio is heard.
const (
	sensorExample = `02:00 sensor bottle gone, or sensor bottle asks "loose wire", or sensor bottle content`
	vitalExample  = "09:00 battery bottle 14% low 20%, battery bottle 2.7V low 2.8V, or signal bottle -92dBm low -85dBm"
)

func (p *parser) sensor(e *Event) error {
	probe, err := p.placed()
	if err != nil {
		return err
	}
	e.Name = probe.Probe
	if e.Word, err = p.next("what it says", sensorExample); err != nil {
		return err
	}
	switch e.Word {
	case "gone", "content":
		return nil
	case "asks":
		if e.Text, err = p.free("what it asks", sensorExample); err == nil && (strings.TrimSpace(e.Text) == "" || len(e.Text) > 200) {
			err = wrong(sensorExample, "it asks nothing")
		}
		return err
	}
	return wrong(sensorExample, "no sensor says %q", e.Word)
}

func (p *parser) vital(e *Event) error {
	probe, err := p.placed()
	if err != nil {
		return err
	}
	e.Name = probe.Probe
	if e.Value, err = p.vitalValue(e.Kind); err != nil {
		return err
	}
	if err = p.want("low", vitalExample); err != nil {
		return err
	}
	if e.Low, err = p.vitalValue(e.Kind); err == nil && e.Low.Unit != e.Value.Unit {
		err = wrong(vitalExample, "%s and %s are of two units", e.Value, e.Low)
	}
	return err
}

func (p *parser) vitalValue(kind string) (Quantity, error) {
	text, err := p.next("a value", vitalExample)
	if err != nil {
		return Quantity{}, err
	}
	q, err := quantity(text, vitalExample)
	if err != nil {
		return q, err
	}
	other := "V"
	if kind == process.VitalSignal {
		other = "dBm"
	}
	if q.Unit != "%" && q.Unit != other {
		return q, wrong(vitalExample, "%s is no %s: it has %% or %s", q, kind, other)
	}
	return q, nil
}

const (
	shelfExample = `19:00 shelved C1 of alder until 22:00 "loading"; or out-of-service, which may take days`
	dutyExample  = "21:00 duty until 07:00 by M.O."
)

// shelf reads which alarm nobody needs to hear of, until when and why.
func (p *parser) shelf(e *Event) (err error) {
	if e.Name, err = p.next("an alarm", shelfExample); err != nil {
		return err
	}
	if !alarmName.MatchString(e.Name) {
		return wrong(shelfExample, "%q is no alarm", e.Name)
	}
	if err = p.want("of", shelfExample); err != nil {
		return err
	}
	if e.About, err = p.free("of what", shelfExample); err != nil {
		return err
	}
	if strings.TrimSpace(e.About) == "" || len(e.About) > 200 {
		return wrong(shelfExample, "it is of nothing")
	}
	if err = p.want("until", shelfExample); err != nil {
		return err
	}
	if e.Until, err = p.until(e.At, shelfExample); err != nil {
		return err
	}
	if e.Text, err = p.free("the reason", shelfExample); err == nil && (strings.TrimSpace(e.Text) == "" || len(e.Text) > 200) {
		err = wrong(shelfExample, "no reason is given")
	}
	return err
}

func (p *parser) duty(e *Event) (err error) {
	if err = p.want("until", dutyExample); err == nil {
		e.Until, err = p.until(e.At, dutyExample)
	}
	return err
}

// isSelf reports whether flitch or a sensor says it, and no person signs.
func (e Event) isSelf() bool {
	switch e.Kind {
	case "door", "lost", "back", "sensor", process.VitalBattery, process.VitalSignal:
		return true
	}
	return false
}

// ofSensor and ofPeople are written in a form of their own; "" when the event is neither.
func (e Event) ofSensor() string {
	switch e.Kind {
	case "sensor":
		text := e.Kind + " " + e.Name + " " + e.Word
		if e.Word == "asks" {
			text += " " + strconv.Quote(e.Text)
		}
		return text
	case process.VitalBattery, process.VitalSignal:
		return e.Kind + " " + e.Name + " " + e.Value.String() + " low " + e.Low.String()
	}
	return ""
}

func (e Event) ofPeople(c clock) string {
	text := ""
	switch e.Kind {
	case "shelved", "out-of-service":
		text = e.Kind + " " + e.Name + " of " + quoteIf(e.About) + " until " + c.untilText(e.Until, e.At) + " " + strconv.Quote(e.Text)
	case "duty":
		text = "duty until " + c.untilText(e.Until, e.At)
	default:
		return ""
	}
	if e.By != "" {
		text += " by " + quoteIf(e.By)
	}
	return text
}

// own is the command of what is of no batch: said by flitch, by a sensor, or of an alarm.
func (s *Scenario) own(e Event, c process.Command) (process.Command, bool) {
	c.Batch, c.Typed = "", c.At
	byItself := process.Command{ID: c.ID, By: "flitch", At: c.At, Typed: c.At}
	switch e.Kind {
	case "lost", "back":
		byItself.Kind, byItself.Text = process.CommandFault, e.Name
		if e.Kind == "lost" {
			byItself.Value = 1
		}
		if e.Until > 0 {
			byItself.Until = s.At(e.Until)
		}
		return byItself, true
	case "sensor":
		byItself.Kind = process.CommandSensor
		byItself.Sensor = &process.SensorWord{Probe: e.Name, Gone: e.Word == "gone", Asks: e.Text}
		if e.Word == "gone" {
			byItself.Sensor.Words = "goodbye"
		}
		return byItself, true
	case process.VitalBattery, process.VitalSignal:
		byItself.Kind = process.CommandVital
		byItself.Vital = &process.Vital{Probe: e.Name, Kind: e.Kind, Value: e.Value.Number, Low: e.Low.Number, Unit: e.Value.Unit}
		return byItself, true
	case "shelved", "out-of-service":
		c.Kind, c.Entry, c.Of, c.Until = process.CommandShelve, e.Name, e.About, s.At(e.Until)
		if e.Kind == "out-of-service" {
			c.Kind = process.CommandOut
		}
		return c, true
	case "duty":
		c.Kind, c.Until = process.CommandDuty, s.At(e.Until)
		return c, true
	}
	return c, false
}

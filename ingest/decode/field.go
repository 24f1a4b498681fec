package decode

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// A Spec says where in a payload the values of one probe are and how they are
// written. All paths are JSON pointers (RFC 6901), in which a step [name=value]
// picks an element of a list by one of its members. The zero Spec is a payload that
// is one number.
type Spec struct {
	Value string // path of the number; "" is the whole payload, or the whole element of a list

	// List: the payload has a list of readings, stored by the device and sent later,
	// at the path Each ("": it is the list). Value and Time are then seen from one
	// element, and every element needs a time of its own.
	List bool
	Each string

	Time       string         // path of the time; "" for none
	TimeFormat string         // as in ParseTimeFormat
	Zone       *time.Location // of a local time, which has to have one
	Backfill   string         // path of a flag: true when the reading was stored and is sent later

	Unit   string  // as in ParseUnit; of a temperature
	UnitAt string  // path of the unit, or "behind" when it stands behind the number
	Scale  float64 // the number is multiplied by it, 0 is 1
	Offset float64 // and this is added, in the unit sent

	Decimal string // "." or "," in numbers that are text; "" is "."

	// Words stand for numbers, for a switch that says open or true. They are compared
	// to the letter.
	Words map[string]float64

	// ID and IDAt pick the messages of one sensor: those that have ID at that path.
	ID, IDAt string
}

// Behind as UnitAt: the unit stands behind the number, "38.9 F".
const Behind = "behind"

// A Field is a compiled Spec.
type Field struct {
	value pointer
	where string // value in the words of a problem
	list  bool
	each  pointer

	time     pointer
	timed    bool
	format   TimeFormat
	zone     *time.Location
	backfill pointer

	numeral numeral
	unit    Unit
	unitAt  pointer
	scale   float64
	offset  float64

	id   pointer
	isID string
}

// IsList reports whether one payload has several readings: ReadList reads them.
func (f *Field) IsList() bool { return f.list }

// NewField compiles a field. The error says what to write instead.
func NewField(s Spec) (Field, error) {
	f := Field{numeral: numeral{words: s.Words}, list: s.List, timed: s.Time != "", zone: s.Zone, scale: s.Scale, offset: s.Offset, isID: s.ID}
	if f.scale == 0 {
		f.scale = 1
	}
	if s.UnitAt == Behind {
		f.numeral.behind, s.UnitAt = true, ""
	}
	for _, p := range []struct {
		into *pointer
		text string
	}{{&f.value, s.Value}, {&f.each, s.Each}, {&f.time, s.Time}, {&f.backfill, s.Backfill}, {&f.unitAt, s.UnitAt}, {&f.id, s.IDAt}} {
		var err error
		if *p.into, err = parsePointer(p.text); err != nil {
			return Field{}, err
		}
	}
	var err error
	if f.format, err = ParseTimeFormat(s.TimeFormat); err != nil {
		return Field{}, err
	}
	if f.unit, err = ParseUnit(s.Unit); err != nil {
		return Field{}, err
	}
	if f.numeral.comma, err = parseDecimal(s.Decimal); err != nil {
		return Field{}, err
	}
	f.where = "payload"
	if f.list {
		f.where = "reading"
	}
	if f.value.text != "" {
		f.where = quoted(f.value.text)
	}
	return f, f.check()
}

// check looks at what has to fit together.
func (f *Field) check() error {
	fromPayload := f.numeral.behind || f.unitAt.text != ""
	switch {
	case f.list && !f.timed:
		return errors.New("a list of readings needs a time in each of them: say where it is")
	case f.format == LocalTime && f.zone == nil:
		return errors.New("a local time needs a zone: name one, such as Europe/Lisbon")
	case f.format != LocalTime && f.zone != nil:
		return errors.New("a zone is only for a local time: leave it out, or write local as the format")
	case f.backfill.text != "" && (f.list || !f.timed):
		return errors.New("a flag for stored readings needs a time, and a list needs no flag")
	case f.unit != AsIs && fromPayload:
		return errors.New("the unit is either given or read from the payload, not both")
	case !(math.Abs(f.scale) <= MaxValue) || !(math.Abs(f.offset) <= MaxValue):
		return fmt.Errorf("scale and offset are numbers up to %g", float64(MaxValue))
	case (f.isID == "") != (f.id.text == ""):
		return errors.New("an id needs a path, and a path of an id an id")
	}
	return nil
}

// A Sample is one value taken from a payload.
type Sample struct {
	Value  float64   // °C if the unit is a temperature's, else as sent; scale and offset applied
	Sent   float64   // the number as it was sent
	Device time.Time // UTC, whole milliseconds; zero if the payload has none
	// Again is set when the clock of the device showed a time that comes twice, in the
	// night clocks are put back: Device is then the first instant, and so much later
	// comes the second.
	Again time.Duration
	// TimeProblem says why a time that should have been there could not be read.
	// The value is still good.
	TimeProblem string
	// Doubt is why the value is to carry a mark though it is believed.
	Doubt string
	// Backfill: the device says that it stored the reading and sends it later. It is
	// taken at its own time, in any order, or not at all.
	Backfill bool
}

// Sample makes a sample of a number that did not come as text, as it was sent.
func (f *Field) Sample(sent float64) Sample {
	return Sample{Value: f.unit.ToCelsius(sent*f.scale + f.offset), Sent: sent}
}

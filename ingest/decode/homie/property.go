package homie

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"flitch/ingest/decode"
)

// A property is a wanted property and what its device says of it.
type property struct {
	address  Property
	unit     string
	datatype string
	format   string
}

// maxAttribute bounds a unit, a data type or a format that is kept, in bytes; own
// bound. A longer format is of an enumeration and says nothing of a number.
const maxAttribute = 200

// takeProperty takes a value, or an attribute of versions 3 and 4.
func (d *device) takeProperty(rest string, payload []byte, retained bool) (h Heard) {
	p, attribute := d.property(rest)
	if p == nil || attribute != "" && d.five {
		return h
	}
	text := ""
	if len(payload) <= maxAttribute {
		text = strings.TrimSpace(strings.ToValidUTF8(string(payload), ""))
	}
	switch attribute {
	case "$unit":
		p.unit = text
	case "$datatype":
		p.datatype = text
	case "$format":
		p.format = text
	default:
		h.Values = []Value{p.value(d, payload, retained)}
	}
	return h
}

func (p *property) value(d *device, payload []byte, retained bool) Value {
	v := Value{Property: p.address, Unit: p.unit, Retained: retained}
	if len(payload) <= maxAttribute {
		v.Text = string(payload)
	}
	v.Number, v.IsBool, v.Err = p.number(payload)
	if d.orphan || d.state.gone() {
		v.Doubt = "came though its device says it is gone"
	}
	return v
}

// number reads a payload by the data type. Without one a property is text by the
// letter of versions 3 and 4; what reads as a number is taken for one.
func (p *property) number(payload []byte) (v float64, isBool bool, err error) {
	switch p.datatype {
	case "boolean":
		switch string(payload) {
		case "true":
			return 1, true, nil
		case "false":
			return 0, true, nil
		}
		return 0, false, problem(decode.NotNumber, quoted(string(payload))+" is no boolean: the convention knows true and false")
	case "", "integer", "float", "string", "percent":
	default:
		return 0, false, problem(decode.NotNumber, "the device calls it "+quoted(p.datatype)+": only numbers and booleans are read")
	}
	v, err = number(payload)
	if err != nil {
		return 0, false, err
	}
	return v, false, p.within(v)
}

// number reads a number as the convention writes it: with a dot, and nothing else
// around it.
func number(payload []byte) (float64, error) {
	if len(payload) == 0 || string(payload) == "\x00" { // version 5 writes an empty text so
		return 0, problem(decode.NoValue, "the property is empty")
	}
	v, err := strconv.ParseFloat(string(payload), 64)
	if err != nil || !decimal(payload) {
		return 0, problem(decode.NotNumber, quoted(string(payload))+" is not a number: the convention writes digits, a dot, and nothing else")
	}
	if math.Abs(v) > decode.MaxValue {
		return 0, problem(decode.NotNumber, quoted(string(payload))+" is beyond anything a probe measures")
	}
	return v, nil
}

// within refuses a number outside the range that the device itself gives, which is no
// value of the property.
func (p *property) within(v float64) error {
	least, most, ok := limits(p.format)
	if !ok || (least == nil || v >= *least) && (most == nil || v <= *most) {
		return nil
	}
	return problem(decode.NotNumber, fmt.Sprintf("%v is outside %s, the range the device gives", v, quoted(p.format)))
}

// limits reads min:max, or min:max:step with either left out (version 5). Anything
// else, as the words of an enumeration, gives none.
func limits(format string) (least, most *float64, ok bool) {
	parts := strings.Split(format, ":")
	if len(parts) != 2 && len(parts) != 3 {
		return nil, nil, false
	}
	var ends [2]*float64
	for i, text := range parts[:2] {
		if text == "" {
			continue
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return nil, nil, false
		}
		ends[i] = &v
	}
	return ends[0], ends[1], true
}

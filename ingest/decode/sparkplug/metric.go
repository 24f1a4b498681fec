package sparkplug

import (
	"math"
	"strconv"

	"google.golang.org/protobuf/encoding/protowire"
)

// The data types that matter here (enum DataType, 6.4.1).
const (
	typeInt8     = 1
	typeInt16    = 2
	typeInt32    = 3
	typeInt64    = 4
	typeBoolean  = 11
	typeDateTime = 13
)

// valueKind says which arm of the value's oneof was there.
type valueKind uint8

const (
	noValue    valueKind = iota
	wholeValue           // int_value or long_value
	floatValue           // float_value or double_value
	boolValue
	textValue
	otherValue // bytes, data sets, templates
)

// A metric is a decoded Metric message.
type metric struct {
	name       string
	alias      uint64
	hasAlias   bool
	time       stamp
	datatype   uint32 // 0: not said
	historical bool
	null       bool
	kind       valueKind
	whole      uint64 // as on the wire: a negative number is its two's complement
	float      float64
	text       string
	properties properties
}

func parseMetric(b []byte) (m metric, err error) {
	err = fields(b, func(num protowire.Number, f field) (err error) {
		switch num {
		case 1:
			m.name = string(f.bytes)
		case 2:
			m.alias, m.hasAlias = f.number, true
		case 3:
			m.time = stamp{f.number, true}
		case 4:
			m.datatype = uint32(f.number)
		case 5:
			m.historical = f.flag()
		case 7:
			m.null = f.flag()
		case 9:
			m.properties, err = parseProperties(f.bytes)
		default:
			m.value(num, f)
		}
		return err
	})
	return m, err
}

// value takes an arm of the oneof; the last one on the wire counts.
func (m *metric) value(num protowire.Number, f field) {
	switch num {
	case 10, 11:
		m.kind, m.whole = wholeValue, f.number
	case 12, 13:
		m.kind, m.float = floatValue, f.float()
	case 14:
		m.kind, m.whole = boolValue, f.number
	case 15:
		m.kind, m.text = textValue, string(f.bytes)
	case 16, 17, 18, 19:
		m.kind = otherValue
	}
}

// signed is a whole number by its data type. Publishers differ in how many bits they
// give a negative one, so that only those of the type are read.
func signed(whole uint64, datatype uint32) float64 {
	switch datatype {
	case typeInt8:
		return float64(int8(whole))
	case typeInt16:
		return float64(int16(whole))
	case typeInt32:
		return float64(int32(whole))
	case typeInt64:
		return float64(int64(whole))
	}
	return float64(whole)
}

// shortest is the decimal a float stands for: 3.9, not 3.9000000953674316.
func shortest(f float32) float64 {
	if v := float64(f); math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	v, _ := strconv.ParseFloat(strconv.FormatFloat(float64(f), 'g', -1, 32), 64)
	return v
}

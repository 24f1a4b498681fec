package decode

import "time"

// A Field says where in a payload one value is and how it is written.
type Field struct {
	value  pointer
	time   pointer
	timed  bool
	format TimeFormat
	unit   Unit
}

// NewField compiles a field. value is a JSON pointer (RFC 6901), "" for the whole
// payload; devTime is a JSON pointer, "" for no time; format and unit as in
// ParseTimeFormat and ParseUnit. The error says what to write instead.
func NewField(value, devTime, format, unit string) (Field, error) {
	var f Field
	var err error
	if f.value, err = parsePointer(value); err != nil {
		return Field{}, err
	}
	if f.time, err = parsePointer(devTime); err != nil {
		return Field{}, err
	}
	f.timed = devTime != ""
	if f.format, err = ParseTimeFormat(format); err != nil {
		return Field{}, err
	}
	if f.unit, err = ParseUnit(unit); err != nil {
		return Field{}, err
	}
	return f, nil
}

// A Sample is one value taken from a payload.
type Sample struct {
	Value  float64   // °C if the unit is a temperature's, else as sent
	Device time.Time // UTC, whole milliseconds; zero if the payload has none
	// TimeProblem says why a time that should have been there could not be read.
	// The value is still good.
	TimeProblem string
}

package sparkplug

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"flitch/ingest/decode"
)

// A Value is one value of a metric that was asked for.
type Value struct {
	Source     Source
	Metric     string  // as it is wanted
	Number     float64 // as sent; a boolean is 1 or 0
	Unit       string  // as the node names it; empty: it names none
	IsBool     bool
	Text       string    // of a metric that is text, when it is short
	Time       time.Time // when it was captured, UTC, whole milliseconds; zero: not told
	TimeWrong  string    // why a time that was told cannot be one
	Historical bool      // sent later: it never was the live value
	Birth      bool      // out of a birth: the newest, however long ago that was
	Err        error     // why there is no number, a *decode.Problem
}

// lastMillis is the end of the year 9999, the last that RFC 3339 can write.
const lastMillis = 253402300799999

// value makes a Value of a metric; facts are what its birth said of it.
func (m metric) valueOf(from Source, name string, at stamp, f facts) Value {
	v := Value{Source: from, Metric: name, Unit: f.unit, Historical: m.historical}
	if m.properties.unit != "" {
		v.Unit = m.properties.unit
	}
	if m.time.set {
		at = m.time
	}
	switch {
	case at.set && at.ms <= lastMillis:
		v.Time = time.UnixMilli(int64(at.ms)).UTC()
	case at.set:
		v.TimeWrong = fmt.Sprintf("device time %d is outside the years 1970 to 9999", at.ms)
	}
	if m.datatype == 0 {
		m.datatype = f.datatype
	}
	v.Number, v.IsBool, v.Err = m.number(name)
	if m.kind == textValue && decode.ClassOf(v.Err) == decode.NotNumber && len(m.text) <= maxText {
		v.Text = m.text // and neither null nor marked as bad
	}
	return v
}

// maxText bounds text that is handed out, in bytes: it is a word of a switch or nothing.
// Own bound.
const maxText = 200

// number is the value as a number, or why there is none.
func (m metric) number(name string) (v float64, isBool bool, err error) {
	where := "metric " + quoted(name)
	switch q := m.properties; {
	case m.null:
		return 0, false, problem(decode.NoValue, where+" is null")
	case q.hasQuality && q.quality == qualityStale:
		return 0, false, problem(decode.NoValue, where+" is marked stale by its node")
	case q.hasQuality && q.quality != qualityGood:
		return 0, false, problem(decode.NoValue, fmt.Sprintf("%s is marked bad by its node (quality %d)", where, q.quality))
	}
	switch m.kind {
	case wholeValue:
		if m.datatype == typeDateTime {
			return 0, false, problem(decode.NotNumber, where+" is a time, not a measurement")
		}
		if m.datatype == typeBoolean {
			return truth(m.whole), true, nil
		}
		return bounded(signed(m.whole, m.datatype), where)
	case floatValue:
		return bounded(m.float, where)
	case boolValue:
		return truth(m.whole), true, nil
	case textValue:
		return 0, false, problem(decode.NotNumber, where+" is text, "+quoted(m.text)+", not a number")
	case otherValue:
		return 0, false, problem(decode.NotNumber, where+" is bytes or a table, not a number")
	}
	return 0, false, problem(decode.NoValue, where+" has no value")
}

func truth(whole uint64) float64 {
	if whole != 0 {
		return 1
	}
	return 0
}

func bounded(v float64, where string) (float64, bool, error) {
	switch {
	case math.IsNaN(v):
		return 0, false, problem(decode.NoValue, where+" is NaN: no measurement")
	case math.Abs(v) > decode.MaxValue:
		return 0, false, problem(decode.NotNumber, fmt.Sprintf("%s is %g, beyond anything a probe measures", where, v))
	}
	return v, false, nil
}

func problem(c decode.Class, text string) error { return &decode.Problem{Class: c, Text: text} }

// quoteMax keeps a name of somebody else's payload readable on one line.
const quoteMax = 60

func quoted(s string) string {
	if len(s) > quoteMax {
		return strconv.Quote(s[:quoteMax]) + "..."
	}
	return strconv.Quote(s)
}

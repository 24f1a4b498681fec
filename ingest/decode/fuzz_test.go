package decode

import (
	"math"
	"strconv"
	"testing"
	"time"
)

// FuzzRead: no payload, path or format makes decode panic or hand out something
// that is not a number; a value that was read prints back to the same value, and a
// time to the same time.
func FuzzRead(f *testing.F) {
	for _, seed := range []struct{ payload, value, devTime, format, unit string }{
		{"3.9", "", "", "", ""},
		{"38.9 F", "", "", "", "F"},
		{`{"temperature":3.9,"humidity":61,"battery":78}`, "/temperature", "", "", "C"},
		{`{"Time":"2031-05-02T21:14:00","PROBE-1":{"Temperature":61.2},"AIR":{"Temperature":null}}`, "/PROBE-1/Temperature", "/Time", "rfc3339", "C"},
		{`{"data":{"time":1760982283,"temperature":21.5},"status":"ok"}`, "/data/temperature", "/data/time", "unix", "K"},
		{`{"probes":[{"ch":1,"t":142},{"ch":2,"t":null}]}`, "/probes/0/t", "", "", "F"},
		{`{"v":"4.25","at":1935515643250}`, "/v", "/at", "", ""},
		{"NaN", "", "", "", ""},
		{"unavailable", "", "", "", ""},
		{"-1e-7", "", "", "", ""},
		{"1e308", "", "", "", ""},
		{"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[", "/0", "", "", ""},
		{`{"a":{"a":{"a":"\ud800"}}}`, "/a/a/a", "/a", "", ""},
		{"\xff\x00", "", "", "", ""},
		{`"`, "/~0~1", "", "", ""},
	} {
		f.Add([]byte(seed.payload), seed.value, seed.devTime, seed.format, seed.unit)
	}
	f.Fuzz(func(t *testing.T, payload []byte, value, devTime, format, unit string) {
		fld, err := NewField(Spec{Value: value, Time: devTime, TimeFormat: format, Unit: unit})
		if err != nil {
			return
		}
		s, err := read(string(payload), fld)
		if err != nil {
			if ClassOf(err) == Unknown || err.Error() == "" {
				t.Fatalf("a reason without words or class: %q", err)
			}
			return
		}
		if math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
			t.Fatalf("value %v", s.Value)
		}
		again, err := read(strconv.FormatFloat(s.Value, 'g', -1, 64), field(t, "", "", "", ""))
		if err != nil || again.Value != s.Value {
			t.Fatalf("%v prints back to %v: %v", s.Value, again.Value, err)
		}
		if s.Device.IsZero() {
			return
		}
		if s.TimeProblem != "" {
			t.Fatalf("both a time and a problem: %v %q", s.Device, s.TimeProblem)
		}
		back, _, err := deviceTime(s.Device.Format(time.RFC3339Nano), RFC3339, nil)
		if err != nil || !back.Equal(s.Device) {
			t.Fatalf("time %v prints back to %v: %v", s.Device, back, err)
		}
	})
}

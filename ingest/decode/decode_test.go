package decode

import (
	"math"
	"strings"
	"testing"
	"time"
)

func field(t testing.TB, value, devTime, format, unit string) Field {
	t.Helper()
	f, err := NewField(Spec{Value: value, Time: devTime, TimeFormat: format, Unit: unit})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// read is Open and Read.
func read(payload string, f Field) (Sample, error) {
	d, err := Open([]byte(payload))
	if err != nil {
		return Sample{}, err
	}
	return d.Read(&f)
}

func TestValues(t *testing.T) {
	deep := strings.Repeat("[", MaxDepth-1) + "4.5" + strings.Repeat("]", MaxDepth-1)
	for _, c := range []struct {
		name, payload, path, unit string
		want                      float64
	}{
		{"bare", "3.9", "", "", 3.9},
		{"bare with blanks and line end", " 3.9 \r\n", "", "", 3.9},
		{"bare negative", "-18.25", "", "C", -18.25},
		{"bare with plus", "+4", "", "", 4},
		{"bare exponent", "2.15e1", "", "", 21.5},
		{"bare in quotes", `"3.9"`, "", "", 3.9},
		{"flat", `{"temperature":3.9,"humidity":61}`, "/temperature", "", 3.9},
		{"number as text", `{"temperature":" 3.9 "}`, "/temperature", "", 3.9},
		{"nested", `{"PROBE-1":{"Temperature":61.2}}`, "/PROBE-1/Temperature", "", 61.2},
		{"list by channel", `{"probes":[{"ch":1,"t":60},{"ch":2,"t":61}]}`, "/probes/1/t", "", 61},
		{"bare list", `[60,null,61]`, "/2", "", 61},
		{"name with slash and tilde", `{"a/b":{"m~n":8}}`, "/a~1b/m~0n", "", 8},
		{"empty name", `{"":7}`, "/", "", 7},
		{"as deep as may be", deep, strings.Repeat("/0", MaxDepth-1), "", 4.5},
		// 40 °F is 4.4 °C and 145 °F is 62.8 °C on every food thermometer; freezing and
		// boiling of water are 32 and 212 °F by definition.
		{"freezing in °F", "32", "", "F", 0},
		{"boiling in °F", "212", "", "F", 100},
		{"-40 is the same", "-40", "", "F", -40},
		{"145 °F", "145", "", "F", 62.78},
		{"kelvin", "277.15", "", "K", 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := read(c.payload, field(t, c.path, "", "", c.unit))
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(s.Value-c.want) > 0.005 || c.unit == "" && s.Value != c.want {
				t.Errorf("value %v, want %v", s.Value, c.want)
			}
			if !s.Device.IsZero() || s.TimeProblem != "" {
				t.Errorf("time %v %q without a time path", s.Device, s.TimeProblem)
			}
		})
	}
}

func TestReasons(t *testing.T) {
	for _, c := range []struct {
		name, payload, path string
		class               Class
		want                string
	}{
		{"empty", "", "", NoValue, "payload is empty"},
		{"blank", " \n", "/t", NoValue, "payload is empty"},
		{"null", "null", "", NoValue, "payload is null"},
		{"null at path", `{"t":null}`, "/t", NoValue, `"/t" is null`},
		{"empty at path", `{"t":""}`, "/t", NoValue, `"/t" is empty`},
		{"word", "unavailable", "", NotNumber, `payload is "unavailable", not a number`},
		{"word at path", `{"t":"unavailable"}`, "/t", NotNumber, `"/t" is "unavailable", not a number`},
		{"NaN", "NaN", "", NotNumber, `payload is "NaN", not a number`},
		{"NaN in JSON", `{"t":NaN}`, "/t", NotJSON, "payload \"{\\\"t\\\":NaN}\" is not JSON: ..."},
		{"infinity", "inf", "", NotNumber, `payload is "inf", not a number`},
		{"hexadecimal", "0x1p4", "", NotNumber, `payload is "0x1p4", not a number`},
		{"underscore", "1_000", "", NotNumber, `payload is "1_000", not a number`},
		{"two dots", "1.2.3", "", NotNumber, `payload is "1.2.3", not a number`},
		{"only a sign", "-", "", NotNumber, `payload is "-", not a number`},
		{"decimal comma", "21,5", "", NotNumber, `payload is "21,5", not a number: if it is meant so, declare decimal = ","`},
		{"unit behind", "38.9 F", "", NotNumber, `payload is "38.9 F", not a number: if it is meant so, declare unit_at = "behind"`},
		{"absurd", "1e308", "", NotNumber, `payload is "1e308", beyond anything a probe measures`},
		{"overflow", "1e999", "", NotNumber, `payload is "1e999", beyond anything a probe measures`},
		{"endless digits", strings.Repeat("1", 100), "", NotNumber, "payload is \"1111 ..."},
		{"true", "true", "", NotNumber, "payload is true, not a number: if it stands for one, declare words = { true = 1 }"},
		{"object", `{"t":4,"rh":60}`, "", NotNumber, `payload is a JSON object, not a number: it has "rh", "t"`},
		{"list", `{"t":[4]}`, "/t", NotNumber, `"/t" is a JSON list, not a number`},
		{"path not there", `{"temp":4,"rh":60}`, "/temperature", NoValue, `nothing at "/temperature": the payload has "rh", "temp"`},
		{"path too deep", `{"t":4}`, "/t/value", NoValue, `nothing at "/t/value": "/t" is a single value`},
		{"index out of range", `[1,2]`, "/2", NoValue, `nothing at "/2": the payload is a list of 2`},
		{"index with leading zero", `[1,2]`, "/01", NoValue, `nothing at "/01": the payload is a list of 2`},
		{"past the end", `[1,2]`, "/-", NoValue, `nothing at "/-": the payload is a list of 2`},
		{"number where JSON should be", "4", "/t", NoValue, `nothing at "/t": the payload is a single value`},
		{"text where JSON should be", "hello", "/t", NotJSON, `payload "hello" is not JSON: ...`},
		{"cut off", `{"t":4`, "/t", NotJSON, `payload "{\"t\":4" is not JSON: ...`},
		{"text behind", `{"t":4} x`, "/t", NotJSON, `payload has text after the JSON: "x"`},
		{"not text", "\xff\xfe4", "", NotText, "payload is not text (not UTF-8)"},
		{"too deep", strings.Repeat("[", MaxDepth+1) + strings.Repeat("]", MaxDepth+1), "/0", NotJSON, "payload is JSON nested deeper than 32"},
		{"too large", strings.Repeat(" ", MaxPayload) + "4", "", TooLarge, "payload of 65537 bytes: at most 65536 are read"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := read(c.payload, field(t, c.path, "", "", ""))
			if err == nil {
				t.Fatalf("taken as %v", s.Value)
			}
			start, open := strings.CutSuffix(c.want, " ...") // the rest is the JSON parser's
			if got := err.Error(); !strings.HasPrefix(got, start) || !open && got != start {
				t.Errorf("reason %q, want %q", got, c.want)
			}
			if got := ClassOf(err); got != c.class {
				t.Errorf("class %q, want %q", got, c.class)
			}
			if len(err.Error()) > 400 {
				t.Errorf("reason of %d characters", len(err.Error()))
			}
		})
	}
}

// The document and the pointers of RFC 6901, section 5.
func TestPointersRFC6901(t *testing.T) {
	root, err := parse([]byte(`{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\j":5,"k\"l":6," ":7,"m~n":8}`))
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		"/": "0", "/a~1b": "1", "/c%d": "2", "/e^f": "3", "/g|h": "4",
		`/i\j`: "5", `/k"l`: "6", "/ ": "7", "/m~0n": "8",
	} {
		p, err := parsePointer(path)
		if err != nil {
			t.Fatal(err)
		}
		v, err := p.find(root, thePayload)
		if err != nil {
			t.Fatal(err)
		}
		if n, _, err := (numeral{}).value(v, path); err != nil || want != string('0'+byte(n)) {
			t.Errorf("%s: %v %v, want %s", path, n, err, want)
		}
	}
	p, _ := parsePointer("/foo/0")
	if v, err := p.find(root, thePayload); err != nil || v != "bar" {
		t.Errorf("/foo/0: %v %v", v, err)
	}
	if whole, _ := parsePointer(""); len(whole.steps) != 0 {
		t.Error("the empty pointer is the whole document")
	}
}

func TestDeviceTimes(t *testing.T) {
	at := time.Date(2031, 5, 2, 19, 14, 3, 250e6, time.UTC)
	for _, c := range []struct {
		name, format, json string
		want               time.Time
		problem            string
	}{
		{"rfc3339 with zone", "rfc3339", `"2031-05-02T21:14:03.250+02:00"`, at, ""},
		{"rfc3339 found", "", `"2031-05-02T19:14:03.25Z"`, at, ""},
		{"cut to milliseconds", "", `"2031-05-02T19:14:03.2509Z"`, at, ""},
		{"unix", "unix", `1935515643.25`, at, ""},
		{"unix found", "", `1935515643.25`, at, ""},
		{"unix as text", "", `"1935515643.25"`, at, ""},
		{"unix-ms", "unix-ms", `1935515643250`, at, ""},
		{"unix-ms found", "", `1935515643250`, at, ""},
		{"a board that woke in 1970", "unix", `7`, time.Unix(7, 0).UTC(), ""},
		{"either unit", "", `7`, time.Time{}, `device time "7" could be seconds or milliseconds`},
		{"between the units", "", `500000000000`, time.Time{}, `device time "500000000000" could be seconds or milliseconds`},
		{"no zone", "", `"2031-05-02T21:14:00"`, time.Time{}, `device time "2031-05-02T21:14:00" has no zone`},
		{"word", "", `"now"`, time.Time{}, `device time "now" cannot be read`},
		{"word for unix", "unix", `"now"`, time.Time{}, `device time "now" cannot be read`},
		{"null", "", `null`, time.Time{}, "device time is null"},
		{"empty", "", `""`, time.Time{}, "device time is empty"},
		{"object", "", `{}`, time.Time{}, "device time is neither text nor a number"},
		{"before 1970", "unix", `-1`, time.Time{}, `device time "-1" is outside the years 1970 to 9999`},
		{"beyond writing", "unix", `1e300`, time.Time{}, `device time "1e300" is outside the years 1970 to 9999`},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := read(`{"t":4,"at":`+c.json+`}`, field(t, "/t", "/at", c.format, ""))
			if err != nil || s.Value != 4 {
				t.Fatalf("the value has to survive its time: %v %v", s.Value, err)
			}
			if !s.Device.Equal(c.want) || s.TimeProblem != c.problem {
				t.Errorf("got %v %q, want %v %q", s.Device, s.TimeProblem, c.want, c.problem)
			}
		})
	}
	s, err := read(`{"t":4}`, field(t, "/t", "/at", "", ""))
	if err != nil || s.TimeProblem != `nothing at "/at": the payload has "t"` {
		t.Errorf("time missing: %+v %v", s, err)
	}
	s, err = read("4", field(t, "", "/at", "", ""))
	if err != nil || s.Value != 4 || s.TimeProblem == "" {
		t.Errorf("bare number with a time path: %+v %v", s, err)
	}
}

func TestFieldProblems(t *testing.T) {
	for _, c := range []struct{ value, devTime, format, unit, want string }{
		{"temperature", "", "", "", `path "temperature" does not start with a slash: write /temperature`},
		{"", "at", "", "", `path "at" does not start with a slash: write /at`},
		{"/a~2", "", "", "", `path "/a~2": a lone ~ is written ~0, and a slash inside a name ~1`},
		{"/a~", "", "", "", `path "/a~": a lone ~ is written ~0, and a slash inside a name ~1`},
		{"", "/at", "iso", "", `time format "iso" is not known: write rfc3339, unix, unix-ms or local`},
		{"", "", "", "R", `unit "R" is not known: write C, F or K`},
	} {
		if _, err := NewField(Spec{Value: c.value, Time: c.devTime, TimeFormat: c.format, Unit: c.unit}); err == nil || err.Error() != c.want {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// Several fields of one payload share one parse.
func TestOneParse(t *testing.T) {
	a, b := field(t, "/a", "", "", ""), field(t, "/b", "", "", "")
	d, err := Open([]byte(`{"a":1,"b":2}`))
	if err != nil {
		t.Fatal(err)
	}
	if s, err := d.Read(&a); err != nil || s.Value != 1 {
		t.Fatal(s, err)
	}
	d.payload = nil // a second parse would fail
	if s, err := d.Read(&b); err != nil || s.Value != 2 {
		t.Error(s, err)
	}
}

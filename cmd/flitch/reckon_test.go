package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flitch/cmd/flitch/internal/reckon"
	"math"
	"strings"
	"testing"
)

// An answer that a test looks into by the names of its results.
type answer struct{ reckon.Answer }

// ask answers one line such as "cure-time thickness=1.5in temp=4C".
func ask(t testing.TB, line string) answer {
	t.Helper()
	name, rest, _ := strings.Cut(line, " ")
	calc, err := reckon.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	pairs, err := reckon.PairsOf(strings.Fields(rest))
	if err != nil {
		t.Fatal(err)
	}
	a, err := calc.Answer(pairs)
	if err != nil {
		t.Fatalf("%s: %v", line, err)
	}
	return answer{a}
}

func (a answer) number(name string) float64 {
	for _, r := range a.Results {
		if r.Name == name && r.Value != nil {
			return *r.Value
		}
	}
	return math.NaN()
}

func (a answer) text(name string) string {
	for _, r := range a.Results {
		if r.Name == name {
			return r.Text
		}
	}
	return "no such result"
}

// Every calculator has an example that it answers, with model, source and
// uncertainty, as JSON too; what it takes for a key left out is something it reads.
func TestEveryCalculator(t *testing.T) {
	if len(reckon.Calculators()) < 15 {
		t.Fatalf("only %d calculators", len(reckon.Calculators()))
	}
	for _, calc := range reckon.Calculators() {
		a := ask(t, calc.Name+" "+calc.Example)
		for _, k := range calc.Keys {
			if k.Taken != "" && k.Basis == "" {
				t.Errorf("%s: %s is taken without saying why", calc.Name, k.Name)
			}
			if err := k.Read.Check(k.Read.Example); err != nil {
				t.Errorf("%s: the example of %s: %v", calc.Name, k.Name, err)
			}
		}
		var text bytes.Buffer
		if err := writeJSON(&text, a); err != nil || !json.Valid(text.Bytes()) {
			t.Errorf("%s: %v", calc.Name, err)
		}
		text.Reset()
		if err := printAnswer(&text, a.Answer); err != nil || !strings.Contains(text.String(), "uncertain") {
			t.Errorf("%s: %v\n%s", calc.Name, err, &text)
		}
	}
}

// The calculators are wired to the models: numbers that are published or computed
// elsewhere come out, in either unit.
func TestReckonedNumbers(t *testing.T) {
	for _, c := range []struct {
		line, result string
		want, tol    float64
		source       string
	}{
		{"cure-time thickness=1.5in temp=4C", "model days", 7.024, 0.002, "series, computed independently"},
		{"cure-time thickness=38.1mm temp=39.2F", "model days", 7.024, 0.002, "the same in other units"},
		{"cure-time thickness=3.81cm temp=4C rule=0.25in/d+2d", "centre at rule days", 0.765, 0.001, "rule of thumb beside the model"},
		{"cure-time thickness=1.5in temp=4C skin=on", "model days", 28.09, 0.01, "sealed skin: four times as long"},
		{"cure-time thickness=2in temp=4C", "they part at", 56.95, 0.05, "2.24 in at 4 °C"},
		{"cure-time thickness=1.5in temp=4C days=6d", "centre now", 0.846, 0.001, "series, computed independently"},
		{"nitrite-left temp=4C time=30d ppm=150ppm", "part left", 0.26909865, 1e-6, "half-life law, evaluated independently"},
		{"dry-time thickness=5cm weighed=0d:1kg|21d:740g target=35%", "days from start", 39.71377, 1e-4, "slab inverted independently"},
		{"water-activity wps=10%", "water activity", 0.93515, 1e-5, "Pitzer, evaluated independently"},
		{"water-activity water=75% protein=21.5% salt=2.6% loss=30%", "water activity", 0.94653677, 1e-6, "evaluated independently"},
		{"lethality temp=60C time=11.23min probe=0K", "log reduction", 11.23 / 1.951, 1e-9, "one minute at 60 °C is one"},
		{"lethality temp=60C time=11.23min probe=0K target=salmonella-fit", "log reduction", 6.5, 1e-9, "best fit of the table"},
		{"lethality temp=140F time=12min probe=0K", "its time", 12, 0, "FSIS table, 140 °F: 12 min at 6.5 log"},
		{"boiling-point pressure=1013.25hPa", "boiling point", 99.974, 0.002, "IAPWS, 101325 Pa"},
		{"boiling-point altitude=1640.42ft", "pressure", 954.61, 0.01, "ASHRAE, 500 m"},
		{"wet-bulb dry=20C rh=50%", "wet bulb", 13.7836, 0.001, "ASHRAE, 20 °C and 50 %"},
		{"wet-bulb dry=30C wet=25C altitude=500m", "humidity ratio", 19.2281, 0.01, "ASHRAE, printed: 0.0192281"},
		{"chill core=40C air=0C tau=1h to=20C", "time to limit", 60 * math.Ln2, 1e-9, "Newton: half in ln 2"},
		{"danger-zone temp=20C time=90min", "time in the zone", 90, 1e-9, "all of it"},
		{"hold product=0C air=10C limit=5C tau=1h", "time to limit", 60 * math.Ln2, 1e-9, "Newton: half in ln 2"},
		{"dose green=5lb nitrite=6.25% ppm=120", "curing salt", 4.35448, 1e-4, "green-weight formula"},
		{"dose green=1kg nitrite=0.6% ppm=150", "curing salt", 25, 1e-9, "green-weight formula"},
		{"degree-hours temp=80F time=10h probe=0K", "degree-hours", 200, 0.1, "20 °F times 10 h"},
	} {
		if got := ask(t, c.line).number(c.result); !(math.Abs(got-c.want) <= c.tol) {
			t.Errorf("%s: %s is %v, want %v (%s)", c.line, c.result, got, c.want, c.source)
		}
	}
}

func TestReckonedWords(t *testing.T) {
	for _, c := range []struct{ line, result, want string }{
		{"cure-time thickness=1.5in temp=4C days=6d", "state", "not yet"},
		{"cure-time thickness=1.5in temp=4C days=8d", "state", "likely"},
		{"cure-time thickness=1.5in temp=4C days=12d", "state", "sure"},
		{"cure-time thickness=1.5in temp=-5C days=90d", "state", "not yet"},
		{"cure-time thickness=1.5in temp=-5C", "model days", "never"},
		{"lethality temp=140F time=12min probe=0K", "table fsis-meat-6.5", "met"},
		{"lethality temp=140F time=11.9min probe=0K", "table fsis-meat-6.5", "not met"},
		{"lethality temp=140F time=12min", "table fsis-meat-6.5", "not met"}, // the probe may be off
		{"lethality temp=20C time=12min", "table fsis-meat-6.5", "not met"},
		{"chill core=40C air=5C tau=1h to=4.4C", "time to limit", "never"},
		{"degree-hours temp=80F time=10h", "verdict", "not measured"},
		{"degree-hours temp=80F time=10h ph=5.6", "verdict", "not met"},
		{"degree-hours temp=80F time=10h ph=5.2", "verdict", "met"},
		{"degree-hours temp=80F time=10d ph=5.2", "verdict", "not met"},
		{"dose green=2268g nitrite=6.25% cure=43.5g rule=us ppm=120", "check, most nitrite", "not met"},
		{"dose green=2268g nitrite=6.25% cure=43.5g ppm=120", "check, most nitrite", "not measured"},
		{"dose green=2268g nitrite=6.25% cure=4.4g ppm=120 cap=150", "check, most nitrite", "met"},
	} {
		if got := ask(t, c.line).text(c.result); got != c.want {
			t.Errorf("%s: %s is %q, want %q", c.line, c.result, got, c.want)
		}
	}
}

// A number is written in digits; a rule by the pound needs the pounds.
func TestReckonRefuses(t *testing.T) {
	for line, try := range map[string]string{
		"cure-time thickness=1.5in temp=4C rule=4d/lb": "weight=2268g",
		"cure-time thickness=1_5mm temp=4C":            "digits",
		"cure-time thickness=0x10mm temp=4C":           "digits",
		"cure-time thickness=Infmm temp=4C":            "digits",
		"cure-time thickness=1.5in temp=NaNC":          "digits",
		"growth temp=7C time=9d conditions=aw=0x1":     "aw=0.985",
		"properties temp=4C parts=water=0_1":           "water=0.73",
	} {
		name, rest, _ := strings.Cut(line, " ")
		calc, err := reckon.Named(name)
		if err != nil {
			t.Fatal(err)
		}
		pairs, err := reckon.PairsOf(strings.Fields(rest))
		if err == nil {
			_, err = calc.Answer(pairs)
		}
		if c, ok := errors.AsType[*complaint](err); !ok || !c.Usage || !strings.Contains(c.Try, try) {
			t.Errorf("%s: %v, want a hint of %q", line, err, try)
		}
	}
	if days := ask(t, "cure-time thickness=1.5in temp=4C rule=4d/lb weight=5lb").number("rule days"); math.Abs(days-20) > 1e-6 {
		t.Errorf("4 days for each of 5 pounds: %g", days)
	}
}

// FuzzReckon: whatever is typed, the answer is a complaint with a hint, or numbers
// that are numbers.
func FuzzReckon(f *testing.F) {
	for _, calc := range reckon.Calculators() {
		f.Add(calc.Name, calc.Example)
	}
	for _, text := range []string{
		"thickness=1.5in temp=NaN", "thickness=1e309mm temp=4C", "temp=4,5C", "=", "a=b=c", "temp=4C temp=5C", "weighed=0d:1g|0d:1g target=1%",
		"profile=1h:4C|0h:4C", "profile=|", "rule=0d", "dry=107C rh=100%", "core=4C air=4C tau=0s", "nitrite=100% green=1g ppm=999999", "altitude=9e9m",
	} {
		f.Add("cure-time", text)
		f.Add("chill", text)
	}
	f.Fuzz(func(t *testing.T, name, line string) {
		calc, err := reckon.Named(name)
		if err != nil {
			return
		}
		pairs, err := reckon.PairsOf(strings.Fields(line))
		var a reckon.Answer
		if err == nil {
			a, err = calc.Answer(pairs)
		}
		if err != nil {
			if c, ok := errors.AsType[*complaint](err); !ok || c.Try == "" {
				t.Errorf("%s %q: no hint in %v", name, line, err)
			}
			return
		}
		for _, r := range a.Results {
			if r.Value != nil && (math.IsNaN(*r.Value) || math.IsInf(*r.Value, 0)) || r.Value == nil && r.Text == "" {
				t.Errorf("%s %q: %s is no number and no word", name, line, r.Name)
			}
		}
		if err := writeJSON(new(bytes.Buffer), a); err != nil {
			t.Errorf("%s %q: %v", name, line, err)
		}
	})
}

// FuzzSheet: a column file of any bytes is answered or complained about, and no
// line is lost.
func FuzzSheet(f *testing.F) {
	for _, text := range []string{
		"thickness,temp\n1.5in,4C\n", "thickness [mm],temp [C]\n38,4\n,4\n38\n", "\ufeffthickness,temp\n\"1.5in,4C\n", "a;b\n1;2\n", "", "thickness,temp\nNaN,4C\n",
	} {
		f.Add(text)
	}
	calc, err := reckon.Named("cure-time")
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := readSheet(strings.NewReader(text), calc, nil, heads{as: []string{"a=temp_C"}})
		if err != nil {
			s, err = readSheet(strings.NewReader(text), calc, nil, heads{})
		}
		if err != nil {
			return
		}
		var out bytes.Buffer
		if err := s.write(&out); err != nil {
			t.Error(err)
		}
	})
}

package scenario

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

const head = `begins 2031-04-07T20:00:00+02:00
plan belly-dry-cured
piece A 2268g 38mm
fridge alder
smoker old-kettle
probe slow product in alder every 1m
probe door door in alder every 5m
probe grate chamber in old-kettle every 1m
probe core-1 core in old-kettle piece A every 1m
`

const whole = `# the story
# of a night

scenario "Ember at Three"
batch OL-31-09
by T.V.
begins 2031-04-07T20:00:00+02:00
zone Europe/Vienna
seed 9
plan belly-dry-cured
fuel electric
person T.V. quiet 21:00..06:30
person "M. O."
piece A 2268g 38mm skin
piece B 2000.5g 40mm
fridge alder
smoker old-kettle
room kitchen
probe slow product in alder every 1m30s
probe door door in alder every 5m
probe grate chamber in old-kettle every 1m uncertainty 1C
probe core-1 core in old-kettle piece A every 1m

20:00 stage smoke
from 20:00 to 02:50 grate hold 57.2C swing 1C period 25m noise 0.5C
from 20:00 to 02:50 core-1 4C -> 49C
from 22:00 to 2/22:10 door hold closed every 10m
# it goes out
from 02:50 to 05:00 grate 135F ~> 12C tau 40m every 30s
from 03:00 to 03:10 gap core-1
03:05 spike grate 400C
from 03:10 to 04:00 late core-1 arrives 04:05
03:20 acknowledged H3 by M.O.
03:20 acknowledged
03:31:30 note "re\"lit"
04:00 hand-reading core A 61.5C
04:00 hand-reading ph 5.2
from 04:00 to 05:30 phone away
from 04:00 to 04:30 doubt grate "the board restarted in 1970"
04:30 reading core-1 85C
05:00 turned A B typed 09:00
05:00 weighed A 1890g
05:00 door door open
05:30 counted 6 by M.O.
06:00 lost broker
06:30 back "phone path hook"
06:30 lost "page certificate" until 12/09:00
06:31 duty until 07:00 by "M. O."
06:32 shelved C1 of alder until 08:00 "a warm load"
06:33 out-of-service B9 of "probe slow of fridge alder" until 5/08:00 "at the maker's" by M.O.
06:34 sensor slow gone
06:35 sensor slow asks "loose wire"
06:36 sensor slow content
06:37 battery slow 2.7V low 2.8V
06:38 signal slow -92dBm low -85dBm
2/20:00 stage chill
3/08:00 close "no more"

expect 03:05..03:25 H3 ring
expect no H5
expect no 20:00..20:00 tell
expect only H3 B1 ring
expect folded H4
expect no 06:00..06:30 summary C6
expect refused
expect clock "come-up" not met
expect verdict running
expect no happening stall
`

func TestWhatIsWrittenIsReadBack(t *testing.T) {
	s, err := Parse(whole)
	if err != nil {
		t.Fatal(err)
	}
	if got := Format(s); got != whole {
		t.Errorf("written back:\n%s", difference(whole, got))
	}
}

// difference is the first line that differs.
func difference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(w), len(g)) {
		if w[i] != g[i] {
			return "want " + w[i] + "\ngot  " + g[i]
		}
	}
	return "one is longer:\n" + got
}

// The same night, as somebody might type it.
func TestTypedCarelessly(t *testing.T) {
	s, err := Parse("\ufeff\t" + strings.ReplaceAll(head, "2268g", "5lb") + "\r\n\r\n  from 21:00   to 05:00 \t slow hold 38°F\r\nexpect no ring")
	if err != nil {
		t.Fatal(err)
	}
	series := s.Lines[0].Item.(Series)
	if series.From != time.Hour || series.To != 9*time.Hour || series.First != (Quantity{38, "F"}) {
		t.Errorf("%+v", series)
	}
	if s.Pieces[0].GreenG < 2267 || s.Pieces[0].GreenG > 2269 || s.Batch != "night" || s.Fuel != "wood" || s.Seed != 1 {
		t.Errorf("%+v", s)
	}
}

func TestProblemsNameTheirLine(t *testing.T) {
	for line, want := range map[string]string{
		"20:00 stage":                                   "a stage is missing",
		"20:00 dance":                                   `"dance" is nothing that happens`,
		"25:00 turned":                                  `"25:00" is not a time`,
		"0/20:00 turned":                                `"0" is not a day`,
		"1/19:00 turned":                                "before the beginning",
		"hello":                                         `"hello" begins no line`,
		"from 21:00 slow hold 3C":                       `"slow" where "to" should be`,
		"from 21:00 to 2/20:00 slow hold 3C":            "",
		"from 2/21:00 to 1/22:00 slow hold 3C":          "is not after",
		"from 21:00 to 22:00 slw hold 3C":               `there is no probe "slw"`,
		"from 21:00 to 22:00 slow hold 3":               "3 is not a value of product",
		"from 21:00 to 22:00 slow hold 3,5C":            "write 3.5C",
		"from 21:00 to 22:00 slow hold NaNC":            "is not a value with its unit",
		"from 21:00 to 22:00 slow hold 1e300C":          "is not a value",
		"from 21:00 to 22:00 slow hold 1e3000C":         "is not a value",
		"from 21:00 to 22:00 slow 3C":                   "goes nowhere",
		"from 21:00 to 22:00 slow 3C -> 4C tau 1m":      `"tau" is too much`,
		"from 21:00 to 22:00 slow 3C ~> 4C":             `"tau" is missing`,
		"from 21:00 to 22:00 slow 3C ~> 4C tau 1ms":     "whole seconds",
		"from 21:00 to 22:00 slow hold 3C noise 0C":     "is no width",
		"from 21:00 to 22:00 door hold 1":               "1 is not a value of door",
		"from 21:00 to 22:00 slow hold 3C every 0m":     "whole seconds",
		"from 21:00 to 22:00 late slow arrives 21:30":   "before they were measured",
		"from 21:00 to 22:00 doubt slow \"\"":           "needs its reason",
		"from 20:00 to 300/20:00 slow hold 3C every 1s": "more than 1000000",
		"21:00 note \"open":                             "quotation mark that is not closed",
		"21:00 note \"\"":                               "a note of 1 to 2000",
		"21:00 weighed C 5g":                            `"C" is not a value`,
		"21:00 hand-reading weight 5g":                  "not measured by hand",
		"21:00 counted -1":                              "is not a number of pieces",
		"21:00 door slow open":                          "is not of a door",
		"21:00 turned typed 2/25:00":                    "is not a time",
		"21:00 turned by \"\"":                          "nobody signed",
		"expect h3 ring":                                `"h3" cannot be expected`,
		"expect ring":                                   "cannot be expected",
		"expect 21:00..20:60 H3":                        "is not a time",
		"expect only ring":                              "only which alarms",
		"expect clock x maybe":                          `"maybe" is no verdict`,
		"expect no clock x met":                         "no clock cannot be expected",
		"expect 20:00..21:00 verdict met":               "a verdict at a time",
	} {
		_, err := Parse(head + "\n# here\n" + line + "\n")
		if want == "" {
			if err != nil {
				t.Errorf("%s: %v", line, err)
			}
			continue
		}
		problems, ok := errors.AsType[Problems](err)
		if !ok || len(problems) != 1 || problems[0].Line != 12 || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want line 12: %s", line, err, want)
		}
	}
}

func TestProblemsOfTheHead(t *testing.T) {
	for text, want := range map[string]string{
		"":                                        "line 1: the head does not say when",
		"begins 2031-04-07 20:00":                 `line 1: "2031-04-07" is not a time`,
		"begins 2031-04-07T20:00:00Z":             "line 1: the head names no plan",
		head + "seed 1\nseed 2":                   "line 11: seed stands twice",
		head + "piece A 1g 1mm":                   "line 10: piece A is there twice",
		head + "piece B 1mm 1mm":                  "has not the right unit",
		head + "piece B 0g 1mm":                   "line 10: a piece of 0g",
		head + "fridge alder":                     "two places alder",
		head + "person T.V.\nperson T.V.":         "line 11: there are two persons T.V.",
		head + "person T.V. quiet 25:00..06:00":   `"25:00..06:00" are no quiet hours`,
		head + "person T.V. quiet 21:00":          `"21:00" are no quiet hours`,
		head + "person T.V. quiet 21:00..21:00":   "are no quiet hours",
		head + "probe x core in y every 1m":       `no place "y" yet`,
		head + "probe x heart in alder":           `"heart" is no placement`,
		head + "probe slow air in alder every 1m": "two probes slow",
		head + "fuel coal":                        `fuel "coal" is not known`,
		head + "batch \"\"":                       "with nothing",
		head + "\n20:30 turned\n20:10 turned":     "line 12: 20:10 is before 20:30",
		head + "\nfrom 20:00 to 21:00 slow hold 3C\nfrom 20:30 to 22:00 slow hold 4C": "line 12: line 11 says already what slow reads until 21:00",
		head + "\n20:10 turned\nplan ham":                                             "line 12: plan belongs to the head",
		"x\ny\nz":                                                                     "line 1: the head does not say when",
	} {
		if _, err := Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
	if _, err := Parse(strings.Repeat("nonsense\n", 1000)); len(err.(Problems)) != maxProblems {
		t.Errorf("%d problems said", len(err.(Problems)))
	}
}

func expanded(t *testing.T, body string) []Entry {
	t.Helper()
	s, err := Parse(head + body)
	if err != nil {
		t.Fatal(err)
	}
	return s.Expand()
}

func values(entries []Entry) (out []float64) {
	for _, e := range entries {
		out = append(out, e.Input.Reading.Value)
	}
	return out
}

func TestShapes(t *testing.T) {
	for body, want := range map[string][]float64{
		"from 20:00 to 20:03 slow hold 3C":                                               {3, 3, 3},
		"from 20:00 to 20:04 slow 0C -> 4C":                                              {0, 1, 2, 3},
		"from 20:00 to 20:03 slow 10C ~> 0C tau 1m":                                      {10, 3.68, 1.35},
		"from 20:00 to 20:03 slow hold 32F swing 1.8F period 4m":                         {0, 1, 0},
		"from 20:00 to 20:04 slow hold 3C every 2m":                                      {3, 3},
		"from 20:00 to 20:03 slow hold 3C\nfrom 20:01 to 20:02 gap slow":                 {3, 3},
		"from 20:00 to 20:03 slow hold 3C\n20:01 spike slow 9C":                          {3, 9, 3},
		"from 20:00 to 20:03 slow hold 3C\n20:01:30 spike slow 9C":                       {3, 3, 9},
		"from 20:00 to 20:03 slow hold 3C\n20:01:30 reading slow 9C":                     {3, 3, 9, 3},
		"from 20:00 to 20:03 slow hold 3C\n20:01 reading slow 9C":                        {3, 9, 3},
		"20:00 door door open\n20:01 door door closed":                                   {1, 0},
		"from 20:00 to 20:03 slow 1C -> 4C\nfrom 20:00 to 20:02 late slow arrives 20:02": {1, 2, 3},
	} {
		if got := values(expanded(t, body)); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v, want %v", body, got, want)
		}
	}
}

func TestMarksAndBadValues(t *testing.T) {
	entries := expanded(t, "from 20:00 to 20:02 slow hold 3C\nfrom 20:00 to 20:01 late slow arrives 20:05\nfrom 20:01 to 20:02 doubt slow \"no clock\"\n20:02 reading slow 85C")
	began := time.Date(2031, 4, 7, 18, 0, 0, 0, time.UTC)
	late := entries[len(entries)-1].Input.Reading
	if !late.Measured.Equal(began) || !late.Received.Equal(began.Add(5*time.Minute)) {
		t.Errorf("late: %+v", late)
	}
	if doubted := entries[0].Input.Reading; doubted.Quality != process.Suspect || doubted.Reason != "no clock" {
		t.Errorf("doubted: %+v", doubted)
	}
	if bad := entries[1].Input.Reading; bad.Quality != process.Bad {
		t.Errorf("85 °C in a fridge: %+v", bad)
	}
	if entries[1].Line != 13 {
		t.Errorf("comes from line %d", entries[1].Line)
	}
}

func TestWhatIsTypedLaterComesLater(t *testing.T) {
	entries := expanded(t, "from 20:00 to 20:02 slow hold 3C\n20:00 turned A by M.O. typed 20:01\n20:01 note x")
	kinds := []process.CommandKind{"", "turned", "note", ""}
	for i, e := range entries {
		if e.Input.Command.Kind != kinds[i] {
			t.Fatalf("%d: %+v", i, e)
		}
	}
	c := entries[1].Input.Command
	if c.By != "M.O." || !c.Typed.Equal(c.At.Add(time.Minute)) || entries[2].Input.Command.By != "night" {
		t.Errorf("%+v", c)
	}
}

func TestTheNoiseIsAlwaysTheSame(t *testing.T) {
	body := "from 20:00 to 23:00 slow hold 3C noise 0.5C"
	a, b := expanded(t, body), expanded(t, body)
	if !reflect.DeepEqual(a, b) {
		t.Error("twice the same text gives two nights")
	}
	other, err := Parse("seed 2\n" + head + body)
	if err != nil {
		t.Fatal(err)
	}
	if reflect.DeepEqual(values(a), values(other.Expand())) {
		t.Error("another seed gives the same noise")
	}
	sum, squares := 0.0, 0.0
	for _, v := range values(a) {
		sum, squares = sum+v-3, squares+(v-3)*(v-3)
	}
	n := float64(len(a))
	if mean, variance := sum/n, squares/n; mean < -0.15 || mean > 0.15 || variance < 0.15 || variance > 0.35 {
		t.Errorf("mean %.3f, variance %.3f of noise 0.5", mean, variance)
	}
}

// A dose and a check of a probe, as a person would have said them.
func TestDosesAndChecksAreSaid(t *testing.T) {
	s, err := Parse(head + "\n20:05 dosed A 57g asked 5.7g nitrite 6.25% rule us\n20:06 dosed A 0.2oz ppm 156 \"a slip\"\n20:07 checked slow ice 37F\n20:08 stage smoke \"all the same\"\n")
	if err != nil {
		t.Fatal(err)
	}
	var said []process.Command
	for _, e := range s.Expand() {
		said = append(said, e.Input.Command)
	}
	if len(said) != 4 || said[0].Kind != process.CommandDosed || said[2].Kind != process.CommandChecked || said[3].Text != "all the same" {
		t.Fatalf("said %+v", said)
	}
	first, second, check := said[0].Dosing, said[1].Dosing, said[2].Check
	if first.Nitrite != 0.0625 || first.Rule != "us" || first.Portions[0].CureG != 57 || first.Portions[0].AskedG != 5.7 {
		t.Errorf("%+v", first)
	}
	if second.PPM != 156 || said[1].Text != "a slip" || second.Nitrite != 0 || math.Abs(second.Portions[0].CureG-5.67) > 0.001 {
		t.Errorf("%+v", second)
	}
	if check.Probe != "slow" || check.Method != process.CheckIce || math.Abs(check.ReadC-2.778) > 0.001 {
		t.Errorf("%+v", check)
	}
	for line, want := range map[string]string{
		"20:05 dosed A": "is missing", "20:05 dosed A 5.7": "unit", "20:05 dosed A 5.7g ppm -3": "above zero", "20:05 dosed A 5.7g nitrite 6.25g": "%",
		"20:07 checked door ice 0C": "not held into ice", "20:07 checked slow 0C": "ice", "20:07 checked nowhere ice 0C": "no probe",
	} {
		if _, err := Parse(head + "\n" + line + "\n"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", line, err, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add(whole)
	f.Add(head + "\n20:00 stage smoke\nexpect 1/20:00..2/20:00 H3 ring\n")
	f.Add(head + "\n20:05 shelved C1 of alder until 2/08:00 \"x\"\n20:06 sensor slow asks \"y\"\n20:07 battery slow 14% low 20%\n20:08 duty until 07:00")
	f.Add(head + "\n20:05 dosed A 57g asked 5.7g nitrite 6.25% rule us\n20:06 dosed A 0.2oz ppm 156.5 \"a slip\"\n20:07 checked slow ice 37F typed 21:00\n20:08 stage smoke \"all the same\"")
	f.Add("begins 2031-10-26T00:00:00-03:30\nplan ./my/plan.toml\npiece Ä 1lb 1in\nroom x\nprobe y power in x every 1h\n23:59:59 reading y 0W\nexpect happening stall")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := Parse(text)
		if err != nil {
			problems, ok := errors.AsType[Problems](err)
			if !ok || len(problems) == 0 || problems[0].Line < 1 {
				t.Fatalf("an error without a line: %v", err)
			}
			return
		}
		once := Format(s)
		again, err := Parse(once)
		if err != nil {
			t.Fatalf("%v\nin what was written:\n%s", err, once)
		}
		if twice := Format(again); twice != once {
			t.Fatalf("written twice:\n%s", difference(once, twice))
		}
		if !reflect.DeepEqual(withoutNumbers(s), withoutNumbers(again)) {
			t.Fatalf("read back, it is something else:\n%s", once)
		}
		s.End()
		if len(text) < 2000 && few(s) {
			s.Expand()
		}
	})
}

func withoutNumbers(s *Scenario) Scenario {
	c := *s
	c.Lines = nil
	for _, l := range s.Lines {
		c.Lines = append(c.Lines, Line{0, l.Item})
	}
	return c
}

// few keeps the fuzzing quick.
func few(s *Scenario) bool {
	n := 0
	for _, l := range s.Lines {
		if v, ok := l.Item.(Series); ok {
			n += int((v.To - v.From) / v.interval(*s.probe(v.Probe)))
		}
	}
	return n < 5000
}

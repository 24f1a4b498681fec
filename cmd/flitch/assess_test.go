package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/assess"
)

// The text tells of each forecast once, as it was made last.
func TestAssessedForecasts(t *testing.T) {
	at := func(hour int) time.Time { return time.Date(2031, 4, 7, hour, 0, 0, 0, time.UTC) }
	air := 3.0
	r := assess.Report{Forecasts: []assess.Forecast{
		{What: "core at 65.6 °C", At: at(4), Low: at(3), High: at(5), Made: at(1)},
		{What: "core at 65.6 °C", At: at(6), Low: at(5), Made: at(2)},
		{What: "chill A ends", At: at(9), Low: at(8), High: at(10), Made: at(7), Air: &air},
		{What: "chill B ends", Made: at(11), Air: &air},
		{What: "core at 71.1 °C", Low: at(5), Made: at(2)},
		{What: "product in the fridge at 4.4 °C, by its air", At: at(3), Low: at(3), High: at(3), Made: at(2)},
	}}
	var out bytes.Buffer
	if err := printReport(&out, &r); err != nil {
		t.Fatal(err)
	}
	var got []string
	for line := range strings.Lines(out.String()) {
		if strings.HasPrefix(line, "forecast") {
			got = append(got, strings.Join(strings.Fields(line), " "))
		}
	}
	want := []string{
		"forecast core at 65.6 °C 2031-04-07 06:00 (2031-04-07 05:00 to later than a day) as of 2031-04-07 02:00",
		"forecast chill A ends 2031-04-07 09:00 (2031-04-07 08:00 to 2031-04-07 10:00) in air of 3.0 °C as of 2031-04-07 07:00",
		"forecast chill B ends never in air of 3.0 °C as of 2031-04-07 11:00",
		"forecast core at 71.1 °C not in a day (2031-04-07 05:00 to later than a day) as of 2031-04-07 02:00",
		"forecast product in the fridge at 4.4 °C, by its air 2031-04-07 03:00 as of 2031-04-07 02:00",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// assessEvents assesses eight days at 3.2 °C with what a person wrote of them.
func assessEvents(t *testing.T, events string, flags ...string) string {
	t.Helper()
	began, dir := time.Date(2031, 4, 1, 8, 0, 0, 0, time.UTC), t.TempDir()
	var readings strings.Builder
	readings.WriteString("time,placement,value,unit\n")
	for at := began; at.Before(began.AddDate(0, 0, 8)); at = at.Add(10 * time.Minute) {
		fmt.Fprintf(&readings, "%s,product,3.2,C\n", at.Format(time.RFC3339))
	}
	for name, text := range map[string]string{"l.csv": readings.String(), "e.csv": "time,event,detail\n2031-04-01T08:00:00Z,stage,cure\n" + events} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var out, complaint bytes.Buffer
	args := []string{"assess", "--plan", "belly-dry-cured", "--readings", filepath.Join(dir, "l.csv"), "--events", filepath.Join(dir, "e.csv")}
	if code := execute(append(args, flags...), terminal{out: &out, err: &complaint}); code != exitFine {
		t.Fatalf("code %d, %s", code, &complaint)
	}
	var lines []string
	for line := range strings.Lines(out.String()) {
		lines = append(lines, strings.Join(strings.Fields(line), " "))
	}
	return strings.Join(lines, "\n")
}

// The cure begins with the dose in force that went on last; a dose that cannot be read or
// taken leaves nobody to say when it began.
func TestAssessedDoses(t *testing.T) {
	const good = "2031-04-02T09:00:00Z,dosed,cure A:5.7g ppm 156 nitrite 6.25% rule us\n"
	piece := []string{"--piece", "A:2268g:38mm"}
	for name, c := range map[string]struct {
		events string
		flags  []string
		want   []string
	}{
		"none":       {"", piece, []string{"cure met 7.8 d"}},
		"a day late": {good, piece, []string{"cure running 6.7 d", "dose met 2031-04-02 09:00 A: 5.7 g of curing salt weighed"}},
		"in the words of the command": {"2031-04-02T09:00:00Z,dosed,--cure=A:57g --ppm 156 --nitrite 6.25% --rule=us\n", piece,
			[]string{"dose not met", "a decimal point has slipped", "K4 tell 2031-04-02 09:00"}},
		"corrected":    {good + "2031-04-02T10:00:00Z,dosed,cure A:5.6g text a = b\n", piece, []string{"dose met 2031-04-02 10:00 A: 5.6 g"}},
		"without why":  {good + "2031-04-02T10:00:00Z,dosed,cure A:5.6g\n", piece, []string{"left out events line 4 A has a dose already", "line 4 of the events tells of a dose that was not taken"}},
		"no unit":      {"2031-04-02T09:00:00Z,dosed,cure A:5.7\n", piece, []string{"left out events line 3", "has no unit", "cure not measured"}},
		"no value":     {"2031-04-02T09:00:00Z,dosed,cure\n", piece, []string{"has no value behind it", "cure not measured"}},
		"nothing":      {"2031-04-02T09:00:00Z,dosed,\n", piece, []string{"a dose without a weight", "cure not measured"}},
		"no such word": {"2031-04-02T09:00:00Z,dosed,A 5.7g\n", piece, []string{"is no word of a dose", "cure not measured"}},
		"a spoon":      {"2031-04-02T09:00:00Z,dosed,cure A:1tsp\n", piece, []string{"nitrite is not dosed by the spoon", "cure not measured"}},
		"no such slab": {strings.Replace(good, "A:", "B:", 1), piece, []string{"has no piece \"B\"", "cure not measured"}},
		"no piece":     {good, nil, []string{"left out events line 3 no --piece", "cure not measured"}},
		"no method":    {strings.Replace(good, "rule us", "rule us method fried", 1), piece, []string{"method \"fried\" is not known", "cure not measured"}},
	} {
		out := assessEvents(t, c.events, c.flags...)
		for _, want := range c.want {
			if !strings.Contains(out, want) {
				t.Errorf("%s: %q is not in\n%s", name, want, out)
			}
		}
	}
}

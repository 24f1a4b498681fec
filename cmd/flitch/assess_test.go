package main

import (
	"bytes"
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

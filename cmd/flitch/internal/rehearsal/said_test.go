package rehearsal

import (
	"os"
	"regexp"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process/plans"
	"flitch/process/scenario"
)

// A warm fridge without a slow sensor.
const noSlowSensor = `begins 2031-04-07T20:00:00Z
plan belly-dry-cured
piece A 2268g 38mm
fridge alder
probe air air in alder every 1m
from 20:00 to 21:00 air hold 3C noise 0.1C
from 21:00 to 23:00 air hold 12C noise 0.1C
`

// A thin piece far ahead of a thick one, and then its probe pulled; a chamber too hot,
// and silence.
const pulled = `begins 2031-04-07T08:00:00Z
plan belly-dry-cured-fully-cooked
piece A 2268g 38mm
piece B 2268g 60mm
smoker kettle
probe pit chamber in kettle every 30s
probe core-1 core in kettle piece A every 30s
probe core-2 core in kettle piece B every 30s
08:00 stage cook
from 08:00 to 12:00 pit hold 80C noise 0.5C
from 08:00 to 10:00 core-1 4C -> 45C noise 0.05C
from 08:00 to 12:00 core-2 4C -> 26C noise 0.05C
from 10:00 to 12:00 core-1 hold 74C noise 0.5C
from 12:00 to 13:00 pit hold 105C noise 0.5C
`

// A chill in a fridge that is no fridge.
const noFridge = `begins 2031-04-07T08:00:00Z
plan belly-dry-cured-fully-cooked
piece A 2268g 38mm
smoker kettle
fridge alder
probe pit chamber in kettle every 1m
probe core-1 core in kettle piece A every 1m
probe air air in alder every 1m
08:00 stage cook
from 08:00 to 12:00 pit hold 80C noise 0.5C
from 08:00 to 20:00 air hold 24C noise 0.1C
from 08:00 to 12:00 core-1 4C -> 66C noise 0.02C
12:02 stage chill
from 12:02 to 20:00 core-1 66C ~> 24C tau 240m noise 0.02C
`

// What was measured stands in the second line also of an alarm that is a yes or no, or a
// difference: in the units of the house, a difference without the 32.
func TestTheSecondLineTellsWhatWasMeasured(t *testing.T) {
	const ember, sock, needle, latch = "06-ember-at-three", "20-dry-sock", "10-jumping-needle", "12-latch"
	for _, c := range []struct{ night, entry, celsius, fahrenheit string }{
		{noSlowSensor, "C3", `^Air 1\d\.\d °C, the product by it about [45]\.\d °C: its limit 5\.0 °C`, `^Air 5\d\.\d °F, the product by it about 4[012]\.\d °F: its limit 41\.0 °F`},
		{pulled, "H12", `^Core-1 \d\d\.\d °C, core-2 \d\d\.\d °C: 1[456789]\.\d °C between the warmest and the coldest core, limit 13\.9 °C`, `^Core-1 [678]\d\.\d °F, core-2 [45]\d\.\d °F: (2[5-9]|3[0-4])\.\d °F between .*, limit 25\.0 °F`},
		{pulled, "H11", `^Reads 7\d\.\d °C, was 4[45]\.\d °C before 10:00 UTC, chamber (79|80|81)\.\d °C: it jumped`, `^Reads 16\d\.\d °F, was 11\d\.\d °F before 10:00 UTC, chamber 17\d\.\d °F: it jumped`},
		{pulled, "H2", `^Chamber 10\d\.\d °C, set point 80\.0 °C: 2[456]\.\d °C above its set point, limit 16\.7 °C, since 12:0`, `^Chamber 22\d\.\d °F, set point 176\.0 °F: 4\d\.\d °F above its set point, limit 30\.0 °F`},
		{pulled, "B1", `^Last heard at 1[12]:\d\d UTC with 4\d\.\d °C: `, `^Last heard at 1[12]:\d\d UTC with 11\d\.\d °F: `},
		{noFridge, "H8", `^Core 6[56]\.\d °C, target 65\.6 °C: slowest core at its target`, `^Core 15\d\.\d °F, target 150\.1 °F: `},
		{noFridge, "H7", `^Core 6[23]\.\d °C, target 65\.6 °C: slowest core 2\.[67] °C below`, `^Core 14\d\.\d °F, target 150\.1 °F: slowest core [45]\.\d °F below`},
		{noFridge, "L2", `^Core \d\d\.\d °C, to be at 26\.7 °C by \d\d:\d\d UTC: forecast is `, `^Core \d+\.\d °F, to be at 80\.0 °F by \d\d:\d\d UTC: `},
		{noFridge, "L3", `^Core \d\d\.\d °C, to be at 26\.7 °C by \d\d:\d\d UTC: .* over the time allowed`, `^Core \d+\.\d °F, to be at 80\.0 °F by `},
		{ember, "H3", `^Chamber 29\.6 °C, set point 80\.0 °C: 50\.4 °C below its set point, limit 16\.7 °C, since 02:56 .* \(20 min\)`, `^Chamber 85\.2 °F, set point 176\.0 °F: 90\.8 °F below its set point, limit 30\.0 °F`},
		{ember, "H6", `^Core 4\d\.\d °C, chamber \d\d\.\d °C: 4 h between 10\.0 °C and 54\.4 °C; 6 h are allowed`, `: 4 h between 50\.0 °F and 130\.0 °F; 6 h`},
		{sock, "H13", `^Wet bulb 27\.0 °C, the plan asks 51\.7 °C, chamber `, `^Wet bulb 80\.\d °F, the plan asks 125\.0 °F, chamber `},
		{needle, "B3", `^The same to the last digit for 20 min; .*; core 6\d\.\d °C at \d\d:\d\d .*, chamber 7\d\.\d °C`, `; core 15\d\.\d °F at `},
		{latch, "H1", `^Chamber \d+\.\d °C, set point 57\.2 °C: getting hotter as only a fire does`, `^Chamber \d+\.\d °F, set point 135\.0 °F: getting hotter as only a fire does`},
	} {
		for unit, want := range map[bool]string{false: c.celsius, true: c.fahrenheit} {
			if line := firstOf(t, c.night, c.entry, unit); !regexp.MustCompile(want).MatchString(line) {
				t.Errorf("%s, °F %v: %q, want %s", c.entry, unit, line, want)
			}
		}
	}
}

// firstOf is the second line of the first message about an entry.
func firstOf(t *testing.T, night, entry string, fahrenheit bool) string {
	t.Helper()
	if len(night) < 100 {
		text, err := os.ReadFile(folder + "/" + night + ".txt")
		if err != nil {
			t.Fatal(err)
		}
		night = string(text)
	}
	s, err := scenario.Parse(night)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.BuiltIn(s.Plan)
	if err != nil {
		t.Fatal(err)
	}
	policy := policyOf(s, named(s.Begins.Location(), s.Begins))
	policy.Fahrenheit = fahrenheit
	report, err := RunIn(House{Policy: policy, Catalogue: alerts.Catalogue(alerts.Wood)}, s, plan)
	if err != nil {
		t.Fatal(err)
	}
	for _, ring := range report.Phone {
		if ring.Entry == entry {
			return ring.Second
		}
	}
	t.Errorf("%s was not told", entry)
	return ""
}

// A zone that has only a difference to UTC is named by it.
func TestAZoneIsNamed(t *testing.T) {
	at := time.Date(2031, 4, 7, 20, 0, 0, 0, time.UTC)
	for seconds, want := range map[int]string{0: "20:00 UTC", 7200: "22:00 UTC+02:00", -12600: "16:30 UTC-03:30"} {
		if got := at.In(named(time.FixedZone("", seconds), at)).Format("15:04 MST"); got != want {
			t.Errorf("%d s: %q, want %q", seconds, got, want)
		}
	}
}

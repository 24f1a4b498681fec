package main

import (
	"encoding/json"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// answered runs a table, of which not all can be answered, and gives the rows by line.
func answered(t *testing.T, line, file string) (rows map[int]answer, left map[int]string) {
	t.Helper()
	out, _, complaints := reckons(t, line+" --json --rows FILE", published+file)
	var s sheetOut
	if err := json.Unmarshal([]byte(out), &s); err != nil {
		t.Fatalf("%s %s: %v: %s", line, file, err, complaints)
	}
	rows, left = map[int]answer{}, map[int]string{}
	for _, r := range s.Rows {
		rows[r.Line] = answer{r.Answer}
	}
	for _, l := range s.LeftOut {
		left[l.Line] = l.Why
	}
	return rows, left
}

// Tables of which some rows ask what the calculator does not answer: those are named,
// with the reason, and the rest compares. Sources are in the tables.
func TestPublishedTablesInPart(t *testing.T) {
	for _, c := range []struct {
		line, file, result, column string
		tol                        float64 // relative
		lines                      []int   // that are answered
		why                        map[int]string
	}{
		{"cure-progress", "cure_temperature_history.csv", "transformed time", "tau_exact", 2e-4, []int{2, 3, 4, 5, 6, 7, 8}, map[int]string{9: "needs profile", 10: "needs profile"}},
		{"cure-progress", "cure_temperature_history.csv", "centre now", "F_centre", 2e-4, []int{2, 3, 4, 5, 6, 7, 8}, nil},
		{"cure-progress", "cure_temperature_history.csv", "mean now", "M_mean_uptake", 2e-4, []int{2, 3, 4, 5, 6, 7, 8}, nil},
		{"cure-progress", "cure_temperature_history.csv", "nitrite left", "nitrite_survival_pH5.8", 2e-4, []int{2, 3, 4, 5, 6, 7, 8}, nil},
		{"mean-kinetic --as series=readings_C", "mkt.csv", "mean kinetic temperature", "MKT_C", 1e-6, []int{2, 3, 4, 5, 6, 7}, map[int]string{8: "not a number"}},
		{"mean-kinetic --as series=profile_h_C", "mkt.csv", "mean kinetic temperature", "MKT_C", 1e-6, []int{8, 9}, map[int]string{2: "not time:value"}},
		{"dose", "nitrite_worked_examples.csv", "weighed ingoing nitrite", "exact_result", 1e-4, []int{6, 7, 8, 10, 12}, map[int]string{2: `"direct" is none of`, 9: "none of", 14: "none of"}},
		{"dose --skip method", "nitrite_worked_examples.csv", "weighed ingoing nitrite", "exact_result", 1e-4, []int{5, 6, 7, 8, 11, 17},
			map[int]string{2: "nearly pure nitrite", 9: "nothing is asked", 10: "needs green", 15: "% of meat", 18: "not a unit of a weight"}},
	} {
		rows, left := answered(t, c.line, c.file)
		if got := slices.Sorted(maps.Keys(rows)); !slices.Equal(got, c.lines) {
			t.Errorf("%s %s: lines %v are answered, want %v: %v", c.line, c.file, got, c.lines, left)
			continue
		}
		for line, why := range c.why {
			if !strings.Contains(left[line], why) {
				t.Errorf("%s %s:%d: left out for %q, want %q", c.line, c.file, line, left[line], why)
			}
		}
		table := tableLines(t, c.file)
		at := slices.Index(table[0], c.column)
		for line, a := range rows {
			want, err := strconv.ParseFloat(table[line-1][at], 64)
			if c.file == "nitrite_worked_examples.csv" && line == 5 {
				want *= 1000 // the row asks the grams of nitrite in 1000 g: 0.18 is 180 ppm
			}
			if got := a.number(c.result); err != nil || !(math.Abs(got-want) <= c.tol*math.Abs(want)) {
				t.Errorf("%s %s:%d: %s is %v, want %v: %v", c.line, c.file, line, c.result, got, want, err)
			}
		}
	}
}

// Cooks' tables are rounded and differ among each other: to 0.5 °F up to 10,000 ft.
func TestCooksBoilingPointsAsRows(t *testing.T) {
	rows, left := answered(t, "boiling-point --skip altitude_m", "boiling_point_altitude.csv")
	table := tableLines(t, "boiling_point_altitude.csv")
	if len(left) != 0 || len(rows) != len(table)-1 {
		t.Fatalf("%d of %d rows: %v", len(rows), len(table)-1, left)
	}
	feet, bp := slices.Index(table[0], "altitude_ft"), slices.Index(table[0], "bp_f")
	for line, a := range rows {
		ft, err1 := strconv.ParseFloat(table[line-1][feet], 64)
		want, err2 := strconv.ParseFloat(table[line-1][bp], 64)
		got := a.number("boiling point")*1.8 + 32
		tol := 0.5
		if ft > 10000 { // there the tables are 1.4 °F apart
			tol = 1.4
		}
		if err1 != nil || err2 != nil || !(math.Abs(got-want) <= tol) {
			t.Errorf("line %d: %v °F at %v ft, printed %v", line, got, ft, want)
		}
	}
	if _, code, complaints := reckons(t, "boiling-point --rows FILE", published+"boiling_point_altitude.csv"); code != exitUsage || !strings.Contains(complaints, "--skip 'altitude_ft'") {
		t.Errorf("feet and metres at once: exit %d: %s", code, complaints)
	}
}

// A target of one's own: F is in minutes at its reference temperature, as in the table.
func TestOwnTargetsAsRows(t *testing.T) {
	table := tableLines(t, "lethality_integration.csv")
	f, lower, ref := slices.Index(table[0], "F_linear_min"), slices.Index(table[0], "F_lower_min"), slices.Index(table[0], "Tref_C")
	for _, line := range []string{"lethality probe=0K", "lethality probe=0K --skip model"} {
		rows, left := answered(t, line, "lethality_integration.csv")
		if len(rows) != 20 || len(rows) != len(table)-1 {
			t.Fatalf("%s: %d of %d rows: %v", line, len(rows), len(table)-1, left)
		}
		for at, a := range rows {
			name := "F at " + table[at-1][ref] + " °C"
			for column, result := range map[int]string{f: name, lower: name + ", lower bound"} {
				want, err := strconv.ParseFloat(table[at-1][column], 64)
				if got := a.number(result); err != nil || !(math.Abs(got-want) <= 1e-6*want+1e-9) {
					t.Errorf("%s line %d: %s is %v, want %v: %v", line, at, result, got, want, err)
				}
			}
		}
	}
	if got := ask(t, "lethality temp=70C time=2min probe=0K ref=70C z=6K z-above=7.5K d-ref=20s floor=60C cap=75C").number("log reduction"); math.Abs(got-6) > 1e-9 {
		t.Errorf("2 min at 70 °C are %v log, want 6", got)
	}
	named, own := "lethality profile=0min:50C|60min:80C probe=0K target=listeria", " ref=70C z=6K z-above=7.5K d-ref=20s floor=60C cap=75C"
	if a, b := ask(t, named).number("log reduction"), ask(t, named+own).number("log reduction"); math.Abs(a-b) > 1e-9*a {
		t.Errorf("listeria by name %v, by its numbers %v", a, b)
	}
	none := ask(t, "lethality temp=50C time=60min probe=0K ref=60C z=10K d-ref=1min floor=none cap=none")
	if got := none.number("F at 60 °C"); math.Abs(got-6) > 1e-9 {
		t.Errorf("without a floor an hour 10 K under is %v min, want 6", got)
	}
}

func TestRefusedReckonings(t *testing.T) {
	rest, parts, own := "salt-rest thickness=10cm salting=10d rest=60d temp=3C", "cure-parts thickness=1.5in temp=4C doses=0d:50%|3d:50% time=10d", "lethality temp=60C time=9min ref=60C z=6K d-ref=1min floor=50C"
	for line, want := range map[string]string{
		"lethality temp=60C time=9min target=salmonela": "is none of salmonella",
		"lethality temp=60C time=9min z=6K":             "needs ref, d-ref, floor, cap too",
		own:                                             "needs cap too",
		own + " cap=70C target=salmonella":              "not the numbers of the target salmonella",
		own + " cap=40C":                                "the floor is not below the cap",
		"lethality temp=60C time=9min ref=60C z=0.01K d-ref=1min floor=none cap=none": "a z under 1 K",
		rest + " tau-salting=0.1":                                           "exactly one",
		"salt-rest tau-salting=0.1":                                         "go together",
		"salt-rest tau-salting=0.1 tau-rest=0.1 temp=4C":                    "say the same thing",
		"salt-rest tau-salting=0 tau-rest=0.1":                              "is no cure",
		"salt-rest thickness=10cm salting=10d rest=60d temp=-5C":            "is no cure",
		parts + " bath=rub":                                                 "of a weighed dose",
		parts + " tau-end=1":                                                "without tau-end",
		"cure-parts tau-doses=0:0.5|0.1:0.5":                                "go together",
		"cure-parts tau-doses=0.1:0.5|0:0.5 tau-end=0.3":                    "in order of time",
		"cure-parts tau-doses=0:0.5|0.1:0.4 tau-end=0.3":                    "come to 90 %",
		"cure-parts thickness=1.5in temp=4C doses=0d:50%|3d:5% time=9d":     "come to 55 %",
		"heat-time from=4C to=60C air=80C":                                  "exactly one",
		"heat-time from=4C to=60C air=80C thickness=4cm half-thickness=2cm": "exactly one",
		"dose nitrite=6.25% ppm=120":                                        "needs green",
		"boiling-point --as height=altitude_m --rows FILE":                  `no column "height"`,
		"boiling-point --as altitude_m=hight --rows FILE":                   "is no key of boiling-point",
		"boiling-point --as altitude_m --rows FILE":                         "is not HEAD=KEY",
	} {
		out, code, complaints := reckons(t, line, published+"boiling_point_altitude.csv")
		if code == exitFine || !strings.Contains(complaints, want) || !strings.Contains(complaints, "try: ") {
			t.Errorf("%s: exit %d, want %q:\n%s%s", line, code, want, out, complaints)
		}
	}
}

// By the trade's own words it comes to the same as by transformed time, and to what is
// known: parts put on together are one dose, and rest evens out.
func TestPartsAndRestByDays(t *testing.T) {
	once := ask(t, "cure-time thickness=1.5in temp=4C days=6d").number("centre now")
	together := ask(t, "cure-parts thickness=1.5in temp=4C doses=0d:50%|0d:50% time=6d")
	if got := together.number("centre now"); math.Abs(got-once) > 1e-9 || together.number("centre all at once") != got {
		t.Errorf("two halves at once give %v, one dose %v", got, once)
	}
	in := "cure-parts thickness=1.5in temp=4C doses=0d:50%|3d:50% time="
	for days, want := range map[string]string{"6d": "not yet", "9d": "likely", "30d": "sure"} {
		if got := ask(t, in+days).text("state"); got != want {
			t.Errorf("in parts, after %s, it is %q, want %q", days, got, want)
		}
	}
	short, long := ask(t, "salt-rest thickness=10cm salting=10d rest=5d temp=3C"), ask(t, "salt-rest thickness=10cm salting=10d rest=500d temp=3C")
	if short.text("even") != "not met" || long.text("even") != "met" || short.number("mean") != long.number("mean") {
		t.Errorf("after a short rest %q, after a long one %q", short.text("even"), long.text("even"))
	}
	salted := ask(t, "salt-rest thickness=10cm salting=10d rest=60d temp=3C")
	warmer := ask(t, "salt-rest thickness=10cm salting=10d rest=60d temp=3C rest-temp=12C")
	if !(warmer.number("centre over mean") > salted.number("centre over mean")) || warmer.number("mean") != salted.number("mean") {
		t.Errorf("a warmer rest: %v, %v", warmer.Results, salted.Results)
	}
	skin := ask(t, "salt-rest thickness=5cm sides=1 salting=10d rest=60d temp=3C")
	if got, want := skin.number("centre"), salted.number("centre"); math.Abs(got-want) > 1e-12 {
		t.Errorf("a skin at half the thickness: %v, want %v", got, want)
	}
}

package rehearsal

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"flitch/process"
	"flitch/process/plans"
	"flitch/process/scenario"
)

func read(t testing.TB, file string) (*scenario.Scenario, process.Plan) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	s, err := scenario.Parse(string(text))
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	plan, err := plans.BuiltIn(s.Plan)
	if err != nil {
		t.Fatal(err)
	}
	if written := scenario.Format(s); written != string(text) {
		t.Errorf("%s is not in its usual form: flitch rehearse --format %s", file, file)
	}
	return s, plan
}

const folder = "../../../../testdata/scenarios"

func TestScenarios(t *testing.T) {
	files, err := filepath.Glob(folder + "/*.txt")
	if err != nil || len(files) < 24 {
		t.Fatalf("%d scenarios, %v: there are 24", len(files), err)
	}
	numbers := map[string]bool{}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".txt")
		number, _, _ := strings.Cut(name, "-")
		numbers[number] = true
		t.Run(name, func(t *testing.T) {
			s, plan := read(t, file)
			report, err := Run(s, plan, nil)
			if err != nil {
				t.Fatal(err)
			}
			if len(report.Expectations) == 0 {
				t.Error("nothing is expected: the scenario shows nothing")
			}
			for _, o := range report.Expectations {
				if !o.Met {
					t.Errorf("line %d: expected %s; %s", o.Line, o.Text, o.Why)
				}
			}
		})
	}
	for n := range 24 {
		if number := fmt.Sprintf("%02d", n+1); !numbers[number] {
			t.Errorf("there is no scenario %s", number)
		}
	}
}

// Twice the same file comes to the same, to the last byte.
func TestARehearsalIsRepeatable(t *testing.T) {
	var last string
	for range 2 {
		s, plan := read(t, folder+"/06-ember-at-three.txt")
		report, err := Run(s, plan, nil)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(report)
		if err != nil {
			t.Fatal(err)
		}
		if last != "" && last != string(text) {
			t.Error("two reports differ")
		}
		last = string(text)
	}
}

// The same night by a fast rule of chilling: the plan that was chosen decides.
func TestThePlanDecides(t *testing.T) {
	s, plan := read(t, folder+"/13-forgotten-rest.txt")
	plan.Chill.Option = "B1"
	report, err := Run(s, plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range report.Clocks {
		if c.Name == process.ClockChillA && c.Verdict != process.NotMet {
			t.Errorf("leg A by the fast rule: %+v", c)
		}
	}
}

const small = `begins 2031-04-07T20:00:00Z
plan belly-dry-cured
piece A 2268g 38mm
fridge alder
probe slow product in alder every 1m
from 20:00 to 22:00 slow hold 8C
20:30 acknowledged C2
20:40 stage nowhere
20:50 acknowledged H3
`

func judged(t *testing.T, expect string) []Outcome {
	t.Helper()
	s, err := scenario.Parse(small + expect + "\n")
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plans.BuiltIn(s.Plan)
	if err != nil {
		t.Fatal(err)
	}
	report, err := Run(s, plan, nil)
	if err != nil {
		t.Fatal(err)
	}
	return report.Expectations
}

// Eight degrees from 20:00: C2 rings at 20:20, and at 20:30 C1 is explained by it.
func TestEachKindOfExpectationCanFail(t *testing.T) {
	for expect, met := range map[string]bool{
		"expect C2": true, "expect C2 ring": true, "expect C2 tell": false, "expect 20:19..20:21 C2": true, "expect 20:21..20:30 C2": false, "expect K1": false,
		"expect no C2": false, "expect no C2 tell": true, "expect no 20:25..21:00 C2": true, "expect no K1": true, "expect no Z9": false, "expect Z9": false,
		"expect no ring": false, "expect no tell": false, "expect no note": false, "expect no 20:00..20:10 ring": true, "expect no 20:00..20:10 note": true,
		"expect only C2 ring": true, "expect only C2 tell": true, "expect only C1 ring": false, "expect only C2 Z9 ring": false,
		"expect folded C1": true, "expect folded C2": false, "expect folded K1": false,
		"expect refused": true, "expect 20:39..20:41 refused": true, "expect 20:00..20:10 refused": false, "expect no refused": false,
		`expect clock "out-of-cold" running`: true, `expect clock "out-of-cold" met`: false, "expect clock nothing met": false,
		"expect verdict running": true, "expect verdict held": false,
		"expect happening stall": false, "expect no happening stall": true,
	} {
		if o := judged(t, expect)[0]; o.Met != met || !met && o.Why == "" {
			t.Errorf("%s: met %v, want %v; %s", expect, o.Met, met, o.Why)
		}
	}
}

// What a person typed and flitch would not have taken is told, unless it was foreseen.
func TestWhatIsNotTakenIsTold(t *testing.T) {
	if all := judged(t, "expect C2"); len(all) != 3 || all[1].Met || all[1].Line != 8 || all[2].Line != 9 {
		t.Errorf("%+v", all)
	}
	if all := judged(t, "expect refused"); len(all) != 1 {
		t.Errorf("%+v", all)
	}
}

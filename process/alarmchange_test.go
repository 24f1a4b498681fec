package process

import (
	"math"
	"strings"
	"testing"
)

func TestAPlanChangesOnlyAlarmsOfItsBatch(t *testing.T) {
	n := func(v float64) *float64 { return &v }
	for _, c := range []AlarmChange{{ID: "H5", Limit: n(60), AfterMin: n(0)}, {ID: "K1", Level: "note"}, {ID: "L2"}, {ID: "B1", AfterMin: n(10)}} {
		if got := c.problems(); len(got) != 0 {
			t.Errorf("%+v: %q", c, got)
		}
	}
	for want, c := range map[string]AlarmChange{
		`id ""`:                       {},
		`id "C1"`:                     {ID: "C1", Limit: n(6)},
		`id "B2"`:                     {ID: "B2"},
		"NaN is no limit":             {ID: "H5", Limit: n(math.NaN())},
		"+Inf is no limit":            {ID: "H5", Clears: n(math.Inf(1))},
		"-1 min: say 0 to 10080":      {ID: "H5", AfterMin: n(-1)},
		"20000 min: say 0 to 10080":   {ID: "H5", SummedMin: n(20000)},
		"H5: NaN min: say 0 to 10080": {ID: "H5", WithinMin: n(math.NaN())},
	} {
		p := testPlan()
		p.Alarms = []AlarmChange{c}
		if got := strings.Join(p.Problems(), "\n"); !strings.Contains(got, want) {
			t.Errorf("%+v: %q, want %q", c, got, want)
		}
	}
}

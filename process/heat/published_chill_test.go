package heat

import (
	"math"
	"testing"

	"flitch/testdata/published"
)

// leadMin is the warning every failing leg of the scenarios must give before its
// limit. It was stated with the scenarios, before this code was written.
const leadMin = 52.0

// actAt is the probability of being late at which a leg is called: ACT of the
// specification the scenarios came with (cook-cool-hold 3.5).
const actAt = 0.50

// chill is one scenario: readings each minute.
type chill struct{ core, air []Sample }

func chills(t *testing.T) map[string]*chill {
	t.Helper()
	table, err := published.Read("cool_scenarios.csv")
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]*chill{}
	for _, row := range table.Rows {
		name, minute := row.Text(t, "scenario"), row.Num(t, "minute")
		if all[name] == nil {
			all[name] = &chill{}
		}
		all[name].core = append(all[name].core, Sample{minute, row.Num(t, "core_C")})
		all[name].air = append(all[name].air, Sample{minute, row.Num(t, "air_C")})
	}
	return all
}

// checkChills follows each leg from the minute it begins: legs that will fail must
// be called in time, legs that will pass never. MARGINAL may be either.
func checkChills(c *published.Check) {
	all := chills(c.T)
	for _, row := range c.Rows {
		limit := row.Num(c.T, "true_from_min") + row.Num(c.T, "limit_min")
		k := all[row.Text(c.T, "scenario")]
		if k == nil {
			c.T.Fatalf("%s: no such scenario", row.Where())
		}
		called := k.called(row.Num(c.T, "true_from_min"), row.NumOr(c.T, "true_to_min", math.Inf(1)), limit, row.Num(c.T, "to_C"))
		switch row.Text(c.T, "verdict") {
		case "FAIL":
			c.Holds(row, limit-called >= leadMin, "called %.0f min before the limit, want %v", limit-called, leadMin)
		case "PASS":
			c.Holds(row, math.IsInf(called, 1), "called at minute %v, but it passes", called)
		case "MARGINAL": // either is right: nothing is compared
		default:
			c.T.Errorf("%s: unknown verdict", row.Where())
		}
	}
}

// called is the minute at which a leg is first forecast to be late, +Inf if never.
func (k *chill) called(from, to, limit, toC float64) float64 {
	for i, s := range k.core {
		if s.Min < from || s.Min > min(to, limit) {
			continue
		}
		fit, steady, ok := FitCooling(k.core[:i+1], k.air[:i+1])
		if !ok || !steady {
			continue
		}
		if x, ever := fit.Crossing(toC); !ever || x.Late((limit-s.Min)/60) >= actAt {
			return s.Min
		}
	}
	return math.Inf(1)
}

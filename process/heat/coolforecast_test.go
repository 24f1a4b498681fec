package heat

import (
	"math"
	"testing"

	"flitch/testdata/published"
)

// A ladderRun is one leg of a scenario as the ladder went through it.
type ladderRun struct {
	Ladder
	row             published.Row
	from, to, limit float64 // minutes
	toC             float64
	act             float64 // minute of the first Act, infinite if never
}

func ladderRuns(c *published.Check) map[string][]*ladderRun {
	runs := map[string][]*ladderRun{}
	for _, row := range c.Rows {
		r := &ladderRun{row: row, from: row.Num(c.T, "true_from_min"), to: row.NumOr(c.T, "true_to_min", math.Inf(1)),
			toC: row.Num(c.T, "to_C"), act: math.Inf(1)}
		r.limit = r.from + row.Num(c.T, "limit_min")
		name := row.Text(c.T, "scenario")
		runs[name] = append(runs[name], r)
	}
	return runs
}

// step takes one minute of the leg.
func (r *ladderRun) step(w *CoolWatch, minute float64) {
	if minute < r.from || minute > min(r.to, r.limit) {
		return
	}
	p := math.NaN()
	if o, ok := w.Forecast(r.toC, r.limit-minute); ok {
		p = o.PLate
	}
	if r.Step(minute, p, r.limit-minute) == Act {
		r.act = min(r.act, minute)
	}
}

// checkLadder goes through each leg with the whole watch, ensemble and all: legs
// that fail are told to act in time, legs that pass never.
func checkLadder(c *published.Check) {
	all, least := chills(c.T), math.Inf(1)
	for name, runs := range ladderRuns(c) {
		k, w := all[name], NewCoolWatch()
		if k == nil {
			c.T.Fatalf("%s: no such scenario", name)
		}
		for i, s := range k.core {
			w.Advance(Minute{Min: s.Min, ChamberC: k.air[i].C, CoreC: s.C})
			for _, r := range runs {
				r.step(w, s.Min)
			}
		}
		for _, r := range runs {
			switch lead := r.limit - r.act; r.row.Text(c.T, "verdict") {
			case "FAIL":
				least = min(least, lead)
				c.Holds(r.row, lead >= leadMin, "act %.0f min before the limit, want %v", lead, leadMin)
			case "PASS":
				c.Holds(r.row, math.IsInf(r.act, 1), "act at minute %v, but it passes", r.act)
			case "MARGINAL": // either is right: nothing is compared
			default:
				c.T.Errorf("%s: unknown verdict", r.row.Where())
			}
		}
	}
	c.T.Logf("every failing leg is told at least %.0f min before its limit", least)
}

func TestLadder(t *testing.T) {
	var l Ladder
	step := func(now, p, left float64, want Rung) {
		t.Helper()
		if got := l.Step(now, p, left); got != want {
			t.Errorf("minute %v, P %v, %v min left: %v, want %v", now, p, left, got, want)
		}
	}
	step(0, 0.09, 100, Fine)
	step(1, 0.9, 99, Watch) // one rung at a time
	step(2, 0.9, 98, Act)
	step(3, 0.3, 97, Act)  // under the rung, but not under half of it
	step(4, 0.2, 96, Act)  // from here
	step(18, 0.2, 82, Act) // 14 minutes
	step(19, 0.2, 81, Watch)
	step(20, 0.04, 80, Watch)
	step(30, math.NaN(), 70, Watch) // no forecast: the quarter of an hour begins again
	step(31, 0.04, 69, Watch)
	step(45, 0.04, 55, Watch)
	step(46, 0.04, 54, Fine)
	step(100, math.NaN(), 0, Broken)
	step(101, 0, 10, Broken) // a fact
	if Broken.String() != "broken" || Fine.String() != "fine" {
		t.Error("rungs have wrong names")
	}
}

// Before a leg has begun the ensemble tells a slow chill from a quick one.
func TestAhead(t *testing.T) {
	all := chills(t)
	for name, c := range map[string]struct {
		minute float64
		late   bool
	}{"K2_ham_fridge": {100, true}, "K4_bench_then_fridge": {55, true}, "K3_ham_blast": {45, false}} {
		w := NewCoolWatch()
		for i, s := range all[name].core {
			if s.Min > c.minute {
				break
			}
			w.Advance(Minute{Min: s.Min, ChamberC: all[name].air[i].C, CoreC: s.C})
		}
		p, ok := w.Ahead(54.4444, 26.6667, 90)
		t.Logf("%s at minute %v: P(late) %.2f", name, c.minute, p)
		if !ok || (p >= actAt) != c.late {
			t.Errorf("%s: P(late) %v %v, want late %v", name, p, ok, c.late)
		}
		if _, ok := w.Ahead(120, 26.6667, 90); ok {
			t.Error("a leg that has begun is not ahead")
		}
	}
}

func TestCoolWatchNever(t *testing.T) {
	w := NewCoolWatch()
	core, air := newton(60, 20, 1, 120)
	for i, s := range core {
		w.Advance(Minute{Min: s.Min, ChamberC: air[i].C, CoreC: s.C})
	}
	o, ok := w.Forecast(10, 100)
	if !ok || !o.At.Never || o.PLate != 1 || !o.Newton || !o.AirKnown || o.AirNeededC >= 10 {
		t.Errorf("air of 20 °C and a limit of 10: %+v %v", o, ok)
	}
}

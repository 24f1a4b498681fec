package growth

import (
	"math"
	"testing"
)

func TestDegreeHours(t *testing.T) {
	nan := math.NaN()
	type step struct{ v1, v2, dt float64 }
	for _, c := range []struct {
		name     string
		steps    []step
		sum, gap float64
		highest  float64
	}{
		{"level", []step{{80, 80, 1}}, 20, 0, 80},
		{"through the base", []step{{50, 70, 2}}, 5, 0, 70},
		{"a cold hour takes nothing back", []step{{80, 80, 1}, {30, 30, 1}}, 20, 0, 80},
		{"a gap counts at its warmer end", []step{{80, 70, 2}}, 40, 40, 80},
		{"an unknown end is the highest so far", []step{{90, 90, 1}, {70, nan, 2}}, 90, 60, 90},
		{"nothing seen yet", []step{{nan, nan, 2}}, 0, 0, 0},
		{"no time, time back, no number", []step{{80, 80, 0}, {80, 80, -1}, {80, 80, nan}, {80, 80, math.Inf(1)}}, 0, 0, 0},
	} {
		var d DegreeHours
		for _, s := range c.steps {
			gapMax := 1.0
			if c.name == "through the base" {
				gapMax = 2
			}
			d.Add(60, s.v1, s.v2, s.dt, gapMax)
		}
		near(t, c.name+", sum", d.Sum, c.sum, 1e-9)
		near(t, c.name+", unseen", d.GapSum, c.gap, 1e-9)
		near(t, c.name+", highest", d.Highest, c.highest, 0)
	}
}

func TestFermentationEndsOnlyAtABelievablePH(t *testing.T) {
	for ph, over := range map[float64]bool{5.31: false, 5.3: true, 4.8: true, 3: true, 2.9: false, 0: false, -1: false, math.NaN(): false, math.Inf(-1): false} {
		var d DegreeHours
		if d.PH(ph) != over {
			t.Errorf("pH %v: over is %v", ph, d.Ended)
		}
		d.Add(60, 80, 80, 1, 2)
		if (d.Sum == 0) != over {
			t.Errorf("pH %v: %v degree-hours after it", ph, d.Sum)
		}
	}
	var d DegreeHours
	if d.PH(5); !d.PH(6) {
		t.Error("a later pH begins the count again")
	}
}

func TestMaxHours(t *testing.T) {
	near(t, "1000 at 90 °F, rounded down from 33.3", MaxHours(1000, 60, 90), 33, 0)
	near(t, "exact hours stay", MaxHours(900, 60, 105), 20, 0)
	if h := MaxHours(1200, 60, 60); !math.IsInf(h, 1) {
		t.Errorf("a room at the base: %v h, want no limit", h)
	}
}

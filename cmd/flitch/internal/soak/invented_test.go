package soak

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The judge is tried on invented series of an hour: what is flat with noise, teeth and a warm
// start is flat, and what leaks is not, however much noise is on it.
func TestTheJudgeKnowsALeak(t *testing.T) {
	chance := rand.New(rand.NewPCG(1, 2))
	noise := func(size float64) float64 { return size * chance.NormFloat64() }
	for _, c := range []struct {
		name   string
		value  func(hours float64) float64
		allow  allowance
		leaks  bool
		points int
	}{
		{"still", func(float64) float64 { return 40 }, allowance{1, 0}, false, 720},
		{"noise", func(float64) float64 { return 40 + noise(3) }, allowance{1, 0}, false, 720},
		{"teeth of a collector", func(h float64) float64 { return 20 + 10*math.Mod(h*97, 1) }, allowance{1, 0}, false, 720},
		{"warms up in ten minutes", func(h float64) float64 { return 20 + 20*(1-math.Exp(-h*25)) + noise(0.2) }, allowance{1, 0}, false, 720},
		{"one spike", func(h float64) float64 { return 40 + 400*math.Max(0, 1-math.Abs(h-0.9)*100) }, allowance{1, 0}, false, 720},
		{"falls", func(h float64) float64 { return 40 - 10*h }, allowance{1, 0}, false, 720},
		{"a handle in five minutes", func(h float64) float64 { return 20 + math.Floor(h*12) }, allowance{2, 0}, true, 720},
		{"slow, under noise", func(h float64) float64 { return 40 + 6*h + noise(3) }, allowance{2, 0}, true, 720},
		{"slow, under teeth", func(h float64) float64 { return 40 + 6*h + 10*math.Mod(h*97, 1) }, allowance{2, 0}, true, 720},
		{"begins in the middle", func(h float64) float64 { return 40 + 20*math.Max(0, h-0.5) }, allowance{2, 0}, true, 720},
		{"jumps and stays", func(h float64) float64 { return 40 + 5*math.Floor(h+0.3) }, allowance{2, 0}, true, 720},
		{"within a part of what it was", func(h float64) float64 { return 40 + 6*h }, allowance{2, 0.1}, false, 720},
		{"few points", func(h float64) float64 { return 20 + 12*h }, allowance{2, 0}, true, 28},
	} {
		var series []point
		for i := range c.points {
			at := time.Duration(float64(time.Hour) * float64(i) / float64(c.points))
			series = append(series, point{at, c.value(at.Hours())})
		}
		j, err := judge(series, time.Hour, c.allow)
		if err != nil || j.flat() == c.leaks {
			t.Errorf("%s: flat %v; %v, %v", c.name, j.flat(), j, err)
		}
	}
}

// A run of which a part was not seen is not called flat.
func TestTheJudgeWantsToHaveSeenIt(t *testing.T) {
	var series []point
	for i := range 500 {
		series = append(series, point{time.Duration(i) * time.Second, 1})
	}
	if j, err := judge(series, time.Hour, allowance{1, 0}); err == nil {
		t.Errorf("eight minutes of an hour were judged: %v", j)
	}
	if _, err := judge(nil, time.Hour, allowance{1, 0}); err == nil {
		t.Error("nothing was judged")
	}
}

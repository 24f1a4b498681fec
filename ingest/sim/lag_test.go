package sim

import (
	"math"
	"testing"
)

// The series and the two results are a product of time constant tau under air that
// moves on straight lines, solved by the closed form and by an ODE solver that
// agreed to 1e-6, outside this package.
func TestLagFollowsPiecewiseLinearAir(t *testing.T) {
	type node struct{ min, c float64 }
	ajar := []node{{0, 3}, {30, 3}, {60, 9}, {240, 9}, {300, 4}, {480, 3}}
	fail := []node{{0, 3}, {60, 6}, {180, 12}, {360, 17}, {600, 20}}
	for _, c := range []struct {
		name     string
		air      []node
		tau, end float64
	}{
		{"door left ajar", ajar, 20, 3.11129283921},
		{"door left ajar, slow", ajar, 90, 3.87824001854},
		{"compressor failed", fail, 20, 19.7499981223},
		{"compressor failed, slow", fail, 90, 18.7663799816},
	} {
		for _, pieces := range []int{1, 7} { // the cut may not matter
			l := lag{tau: c.tau * 60}
			l.start(3)
			for i := 1; i < len(c.air); i++ {
				from, to := c.air[i-1], c.air[i]
				for k := 1; k <= pieces; k++ {
					l.step((to.min-from.min)*60/float64(pieces), from.c+(to.c-from.c)*float64(k)/float64(pieces))
				}
			}
			if math.Abs(l.out-c.end) > 1e-9 {
				t.Errorf("%s in %d pieces: %.10f, want %.10f", c.name, pieces, l.out, c.end)
			}
		}
	}
}

func TestLagStepResponse(t *testing.T) {
	l := lag{tau: 2700, in: 9, out: 3}
	for range 270 {
		l.step(10, 9)
	}
	if want := 9 - 6*math.Exp(-1); math.Abs(l.out-want) > 1e-9 {
		t.Errorf("after one time constant %.6f, want %.6f", l.out, want)
	}
}

func TestLagZeroPassesThrough(t *testing.T) {
	l := lag{}
	if got := l.step(10, 7.5); got != 7.5 {
		t.Errorf("got %v, want 7.5", got)
	}
}

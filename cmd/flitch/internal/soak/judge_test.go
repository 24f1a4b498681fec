package soak

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// A point is one measurement, at a time since the run began.
type point struct {
	at    time.Duration
	value float64
}

// An allowance is how far a measure may rise within half a run and still be called flat: so
// much, or this part of what it was, whichever is more. Proposals: what a measure that leads
// nowhere was seen to wander.
type allowance struct{ absolute, relative float64 }

func (a allowance) times(n float64) allowance { return allowance{n * a.absolute, n * a.relative} }

// warmUp is how long caches and heaps were seen to fill.
const warmUp = 10 * time.Minute

// fewest is how many points each quarter has to have: a median of less says nothing.
const fewest = 5

// A judgement is what a series comes to. The first quarter is warming up and counts for
// nothing.
type judgement struct {
	second, last float64 // medians of the second and the last quarter
	slope        float64 // of the last three quarters, for each hour of the run; Theil-Sen: a spike turns nothing
	rise         float64 // within half a run: by the medians or by the slope, whichever is more
	allowed      float64
}

func (j judgement) flat() bool { return j.rise <= j.allowed }

func (j judgement) String() string {
	return fmt.Sprintf("median %.4g in the second quarter, %.4g in the last, slope %.4g an hour: rises by %.4g in half a run, %.4g allowed",
		j.second, j.last, j.slope, j.rise, j.allowed)
}

// judge compares the quarters of a run that took lasts.
func judge(series []point, lasts time.Duration, a allowance) (judgement, error) {
	var quarters [4][]float64
	var tail []point
	for _, p := range series {
		q := min(int(4*p.at/lasts), 3)
		quarters[q] = append(quarters[q], p.value)
		if q > 0 {
			tail = append(tail, p)
		}
	}
	for _, q := range quarters[1:] {
		if len(q) < fewest {
			return judgement{}, errors.New("too few points: a quarter of the run was not seen")
		}
	}
	j := judgement{second: median(quarters[1]), last: median(quarters[3]), slope: slope(tail)}
	j.rise = max(j.last-j.second, j.slope*lasts.Hours()/2)
	j.allowed = max(a.absolute, a.relative*j.second)
	return j, nil
}

// slope is the median of the slopes of all pairs, for each hour (Theil 1950, Sen 1968: an
// estimate that a third of wrong points does not move far).
func slope(series []point) float64 {
	const most = 300 // points: enough, and their pairs are quick
	if step := len(series)/most + 1; step > 1 {
		var thinned []point
		for i := 0; i < len(series); i += step {
			thinned = append(thinned, series[i])
		}
		series = thinned
	}
	var slopes []float64
	for i, a := range series {
		for _, b := range series[i+1:] {
			if d := (b.at - a.at).Hours(); d > 0 {
				slopes = append(slopes, (b.value-a.value)/d)
			}
		}
	}
	if len(slopes) == 0 {
		return 0
	}
	return median(slopes)
}

func median(xs []float64) float64 {
	xs = slices.Sorted(slices.Values(xs))
	return xs[len(xs)/2]
}

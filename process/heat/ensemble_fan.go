package heat

import (
	"math"
	"slices"
)

// A Band is when a core will be at one temperature on its way to a target.
type Band struct {
	C                   float64 // °C
	Early, Likely, Late ETA     // 80 % interval and median
}

// Fan forecasts the way of the core to a target, °C, in a chamber of a temperature from
// now on: the same question as OutlookIn, asked of so many temperatures in even steps, the
// last of them the target. A piece is moved on once, or once for each step where it will
// not be at the target today. It is nil before the first half
// hour of the core, where the core is there, and for what is no number.
func (e *Ensemble) Fan(targetC, chamberC float64, steps int) []Band {
	e.follow()
	if !e.begun || e.lastMin-e.startMin < tooSoonMin || !finite(targetC) || !finite(chamberC) || steps < 1 {
		return nil
	}
	present := e.present()
	from, to := levelOf(present), levelOf(targetC)
	if from >= to {
		return nil
	}
	said := make([][]score, steps)
	in := e.law.in(chamberC)
	now := e.lastMin - e.startMin
	for i, w := range e.weight {
		if w < noWeight {
			continue
		}
		for j, minutes := range e.pieces[i].way(&e.law, &in, now, from, to, steps) {
			said[j] = append(said[j], score{minutes, w})
		}
	}
	out := make([]Band, steps)
	for j, scores := range said {
		slices.SortFunc(scores, byMinutes)
		c := present + (targetC-present)*float64(j+1)/float64(steps)
		out[j] = Band{C: c, Early: quantileOf(scores, intervalLow), Likely: quantileOf(scores, 0.5), Late: quantileOf(scores, intervalTop)}
	}
	return out
}

// way is how long the piece takes to each of the steps between two levels, minutes,
// infinite for not today.
func (p *piece) way(l *law, in *surrounding, now, from, to float64, steps int) []float64 {
	out := make([]float64, steps)
	ahead := *p
	there := !math.IsInf(ahead.takes(l, in, now, from, to), 1)
	start, _ := ahead.firstAt(from)
	for j := range out {
		level := from + (to-from)*float64(j+1)/float64(steps)
		if end, ok := ahead.firstAt(level); there && ok {
			out[j] = max(0, end-start)
			continue
		}
		again := *p // given up on: it may still come to a lower level
		out[j] = again.takes(l, in, now, from, level)
	}
	return out
}

package chart

import (
	"math"
	"strconv"
	"time"

	"gonum.org/v1/plot"
)

// localTicks marks the time axis at round local times: never more marks than
// fit. The axis itself is one unbroken line of time, so a night with 25 hours is
// drawn 25 hours long.
func localTicks(v View, zone *time.Location, room int) []plot.Tick {
	step, days := timeStep(v.To.Sub(v.From), room)
	var ticks []plot.Tick
	for day := midnight(v.From.In(zone)); !day.After(v.To); day = day.AddDate(0, 0, max(days, 1)) {
		if days > 0 {
			ticks = append(ticks, plot.Tick{Value: seconds(day), Label: day.Format("2 Jan")})
			continue
		}
		next := day.AddDate(0, 0, 1)
		for t := day; t.Before(next); t = t.Add(step) {
			label := t.Format("15:04")
			if t.Equal(day) {
				label = t.Format("2 Jan")
			}
			ticks = append(ticks, plot.Tick{Value: seconds(t), Label: label})
		}
	}
	return ticks
}

// timeStep picks the smallest round step that gives at most room marks: a
// duration within the day, or whole days.
func timeStep(span time.Duration, room int) (step time.Duration, days int) {
	for _, minutes := range []int{5, 10, 15, 30, 60, 120, 180, 360, 720} {
		step = time.Duration(minutes) * time.Minute
		if span <= step*time.Duration(room) {
			return step, 0
		}
	}
	for _, days = range []int{1, 2, 3, 4, 5, 7, 14, 28} {
		if span <= time.Duration(days*room)*24*time.Hour {
			return 0, days
		}
	}
	return 0, int(span/(24*time.Hour))/max(room, 1) + 1
}

func midnight(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
}

// degreeTicks marks the temperature axis at round numbers, about room of them.
func degreeTicks(low, high float64, room int) []plot.Tick {
	step := 1.0
	for _, s := range []float64{1, 2, 5, 10, 20, 50, 100} {
		if step = s; (high-low)/s <= float64(room) {
			break
		}
	}
	var ticks []plot.Tick
	for v := math.Ceil(low/step) * step; v <= high; v += step {
		ticks = append(ticks, plot.Tick{Value: v, Label: strconv.FormatFloat(v+0, 'f', -1, 64)})
	}
	return ticks
}

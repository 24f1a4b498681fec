package heat

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// BenchmarkCookEnsemble is an update of the thousand pieces in each minute of eight
// hours: the pieces moved on, compared with the core each quarter of an hour, and
// asked when it is done; once for a ham and once for meat that is to fall apart, to
// which many pieces never come. The limit is a number of ours: 50 ms. Of each minute
// the fastest round counts, because a shared machine stops now and then: the worst
// minute is then one of the cook and not one of the machine.
func BenchmarkCookEnsemble(b *testing.B) {
	const limitMS, minutes = 50.0, 8 * 60
	measured, _ := largeRoast().cook(rand.New(rand.NewPCG(8, 60)), minutes)
	targets := []float64{68.3, 93}
	took := make([][]float64, minutes*len(targets))
	b.ReportAllocs()
	for b.Loop() {
		for i, target := range targets {
			if asked := timed(measured, target, took[i*minutes:]); asked < minutes-90 {
				b.Fatalf("%v °C: only %d of %d minutes had a forecast", target, asked, minutes)
			}
		}
	}
	mean, worst := 0.0, 0.0
	for _, t := range took {
		fastest := slices.Min(t)
		mean, worst = mean+fastest/float64(len(took)), max(worst, fastest)
	}
	fmt.Printf("bench cook_ensemble_mean %.2f ms %.0f %.3f\n", mean, limitMS, mean/limitMS)
	fmt.Printf("bench cook_ensemble_worst %.2f ms %.0f %.3f\n", worst, limitMS, worst/limitMS)
}

// timed follows a cook, adds to took what each minute took, ms, and returns how many
// of them had a forecast.
func timed(measured []Minute, targetC float64, took [][]float64) (asked int) {
	e := NewCookEnsemble(0)
	for i, m := range measured {
		began := time.Now()
		e.Advance(m)
		_, ok := e.Outlook(targetC, false)
		took[i] = append(took[i], time.Since(began).Seconds()*1000)
		if ok {
			asked++
		}
	}
	return asked
}

// largeRoast is a large round piece, at 70 °C after eight hours.
func largeRoast() roast {
	return roast{shape: 1, halfM: 0.065, alpha: 1.3e-7, h: 12, emits: 0.6, humidity: 0.02, wet0: 0.3, wetLast: 0.03,
		dryLoss: 0.1, setC: 115, warmMin: 25, noise: 0.15, ar: 0.7}
}

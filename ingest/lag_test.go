package ingest

import (
	"testing"
	"time"

	"flitch/ingest/decode"
)

func TestClockThatIsBehind(t *testing.T) {
	const patience = 5 * 60_000
	type at struct{ arrival, device float64 } // s
	series := func(n int, f func(i float64) at) (all []at) {
		for i := range n {
			all = append(all, f(float64(i)))
		}
		return all
	}
	for _, c := range []struct {
		name string
		sent []at
		from int // index of the first reading that shows it; -1: none does
		to   int // and of the first that no longer does; 0: the end
	}{
		{"in time", series(60, func(i float64) at { return at{60 * i, 60*i - 1} }), -1, 0},
		{"four minutes behind is in time", series(60, func(i float64) at { return at{60 * i, 60*i - 240} }), -1, 0},
		{"ten minutes behind", series(60, func(i float64) at { return at{60 * i, 60*i - 600} }), 5, 0},
		{"another zone, a reading in ten minutes", series(20, func(i float64) at { return at{600 * i, 600*i - 18000} }), 1, 0},
		{"a clock that loses a second a minute", series(60, func(i float64) at { return at{60 * i, 59*i - 600} }), 5, 0},
		{"a night's queue at once", series(600, func(i float64) at { return at{36000 + i/100, 60 * i} }), -1, 0},
		{"a queue of seconds at once", series(6000, func(i float64) at { return at{36000 + i/100, i} }), -1, 0},
		{"a queue slowly, twice as fast as it came", series(600, func(i float64) at { return at{36000 + 30*i, 60 * i} }), -1, 0},
		{"one message again and again", series(60, func(i float64) at { return at{60 * i, -3600} }), -1, 0},
		{"set right after half an hour", series(60, func(i float64) at {
			if i < 30 {
				return at{60 * i, 60*i - 600}
			}
			return at{60 * i, 60 * i}
		}), 5, 30},
		{"our own clock is set back", append(series(10, func(i float64) at { return at{60 * i, 60*i - 600} }), at{-7200, -7800}), 5, 10},
	} {
		t.Run(c.name, func(t *testing.T) {
			var l lag
			for i, m := range c.sent {
				want := c.from >= 0 && i >= c.from && (c.to == 0 || i < c.to)
				ms := func(s float64) int64 { return int64(s*1000) + 1_900_000_000_000 }
				if got := l.isBehind(ms(m.arrival), ms(m.device), patience); got != want {
					t.Fatalf("reading %d: %t, want %t", i, got, want)
				}
			}
		})
	}
}

// What is marked as stored says nothing of the clock.
func TestStoredReadingsAreNoLag(t *testing.T) {
	tr := &track{probe: "slow"}
	for i := range 60 {
		d, err := tr.date(sampleAt(at(float64(60*i-3600)), true), at(float64(60*i)), time.Minute, nil)
		if err != nil || d.doubt != "late" || !d.believed {
			t.Fatalf("reading %d: %+v, %v", i, d, err)
		}
	}
}

func sampleAt(device time.Time, stored bool) decode.Sample {
	return decode.Sample{Value: 4, Device: device, Backfill: stored}
}

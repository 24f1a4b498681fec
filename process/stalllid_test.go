package process

import (
	"testing"
	"time"
)

// A lid lets the core fall, and then it is not up in three quarters of an hour although
// it rises well: nobody is told of that. A stall after the lid is told.
func TestALidIsNoStall(t *testing.T) {
	for name, c := range map[string]struct {
		after func(minutes int) float64 // core since the lid was opened
		stall bool
	}{
		"falls and comes back": {func(m int) float64 { return max(57, 60-0.3*float64(m)) + max(0, 0.2*float64(m-14)) }, false},
		"falls and stays":      {func(m int) float64 { return max(57, 60-0.3*float64(m)) }, true},
	} {
		d := newDiary(t)
		s := cook(d)
		told := 0
		for m := range 180 {
			at := s + time.Duration(m)*minute
			chamber, core := 100.0, min(60, 20+0.4*float64(m))
			if open := m - 110; open >= 0 {
				core = c.after(open)
				if open < 5 {
					chamber = 60
				}
			}
			d.read("chamber", at, chamber)
			d.read("core", at, core)
			d.tick(at)
			if f, ok := d.last(MeasureNoRise); ok && f.State == Known && f.Value >= 45 {
				told++
			}
		}
		if (told > 0) != c.stall {
			t.Errorf("%s: told of as a stall in %d minutes", name, told)
		}
	}
}

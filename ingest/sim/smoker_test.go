package sim

import (
	"math"
	"testing"
	"time"
)

func house(build func(string, *Room) *Smoker) (*World, *Smoker) {
	w := NewWorld(time.Date(2031, 7, 22, 6, 0, 0, 0, time.UTC), 3)
	room := &Room{Name: "shed", MeanC: 20}
	w.AddRoom(room)
	s := build("old-kettle", room)
	w.AddSmoker(s)
	return w, s
}

func TestSmokerComesUpOvershootsAndHolds(t *testing.T) {
	for _, c := range []struct {
		name     string
		build    func(string, *Room) *Smoker
		low, top float64 // between them lies the peak of the start-up
	}{
		{"charcoal", Charcoal, 82, 95},
		{"electric", Electric, 79, 85},
	} {
		w, s := house(c.build)
		s.Set(80)
		s.Light()
		high := 0.0
		every(w, 90*time.Minute, func() { high = max(high, s.Chamber()) })
		if high < c.low || high > c.top {
			t.Errorf("%s: start-up peaks at %.1f °C, set 80", c.name, high)
		}
		sum, n, off := 0.0, 0.0, 0.0
		every(w, 6*time.Hour, func() { sum += s.Chamber(); n++; off = max(off, math.Abs(s.Chamber()-80)) })
		if mean := sum / n; math.Abs(mean-80) > 1 {
			t.Errorf("%s: mean %.2f °C, set 80", c.name, mean)
		}
		if off > 8 || off < 0.3 {
			t.Errorf("%s: farthest from the set point %.2f K", c.name, off)
		}
	}
}

// Fire out: a time constant of 20 to 40 min for sheet steel (from memory), and the
// house comes back when it is lit again.
func TestFireOutAndRelit(t *testing.T) {
	w, s := house(Charcoal)
	s.Set(95)
	s.Light()
	w.Advance(w.Now().Add(3 * time.Hour))
	s.Quench()
	w.Advance(w.Now().Add(15 * time.Minute)) // the last coals
	from, minutes := s.Chamber()-20, 0.0
	every(w, 2*time.Hour, func() {
		if s.Chamber()-20 > from/math.E {
			minutes += tick.Minutes()
		}
	})
	if minutes < 20 || minutes > 40 {
		t.Errorf("time constant %.1f min", minutes)
	}
	s.Light()
	w.Advance(w.Now().Add(2 * time.Hour))
	if math.Abs(s.Chamber()-95) > 6 {
		t.Errorf("two hours after it was relit %.1f °C, set 95", s.Chamber())
	}
}

func TestLidOpenDropsTheChamber(t *testing.T) {
	w, s := house(Charcoal)
	s.Set(95)
	s.Light()
	w.Advance(w.Now().Add(3 * time.Hour))
	before := s.Chamber()
	s.Lid(true)
	w.Advance(w.Now().Add(time.Minute))
	s.Lid(false)
	if drop := before - s.Chamber(); drop < 15 {
		t.Errorf("a minute with the lid open drops the chamber by %.1f K only", drop)
	}
	w.Advance(w.Now().Add(90 * time.Minute))
	if math.Abs(s.Chamber()-95) > 6 {
		t.Errorf("90 min later %.1f °C, set 95", s.Chamber())
	}
}

package sim

import (
	"math"
	"testing"
	"time"
)

// quiet is a world with one fridge in a room that stays at 22 °C.
func quiet(f *Fridge) *World {
	w := NewWorld(time.Date(2031, 7, 14, 0, 0, 0, 0, time.UTC), 7)
	f.Name, f.Room = "alder", &Room{Name: "larder", MeanC: 22}
	w.AddRoom(f.Room)
	w.AddFridge(f)
	return w
}

func storyFridge() *Fridge {
	f := *newShop(clock(0, 0, 0), 1).alder
	return &f
}

// every calls do after each tick for the time given.
func every(w *World, d time.Duration, do func()) {
	for end := w.Now().Add(d); w.Now().Before(end); {
		w.Advance(w.Now().Add(tick))
		do()
	}
}

// Usual shape of a fridge (from memory): period 25 to 60 min, air between 2 and
// 4 °F from coldest to warmest.
func TestFridgeCycles(t *testing.T) {
	f := storyFridge()
	f.DefrostEvery = 0
	w := quiet(f)
	starts, was := 0, f.Running()
	low, high := math.Inf(1), math.Inf(-1)
	every(w, 24*time.Hour, func() {
		if f.Running() && !was {
			starts++
		}
		was = f.Running()
		low, high = min(low, f.Air()), max(high, f.Air())
	})
	if period := 24 * 60 / float64(starts); period < 25 || period > 60 {
		t.Errorf("compressor period %.1f min", period)
	}
	if swing := (high - low) * 1.8; swing < 2 || swing > 4 {
		t.Errorf("air swings by %.1f °F", swing)
	}
	if mid := (high + low) / 2; math.Abs(mid-f.SetC) > 0.5 {
		t.Errorf("middle of the air %.2f °C, set %.1f", mid, f.SetC)
	}
}

// A defrost warms the air by 3 to 8 °C and the product hardly.
func TestDefrostIsSeenInAirNotInProduct(t *testing.T) {
	f := storyFridge()
	w := quiet(f)
	product := lag{tau: 2700}
	product.start(f.SetC)
	airHigh, productHigh := -99.0, -99.0
	every(w, 24*time.Hour, func() {
		product.step(tick.Seconds(), f.Air())
		airHigh, productHigh = max(airHigh, f.Air()), max(productHigh, product.out)
	})
	if rise := airHigh - f.SetC; rise < 3 || rise > 8 {
		t.Errorf("air rises by %.1f K", rise)
	}
	if rise := productHigh - f.SetC; rise > 1.5 {
		t.Errorf("product rises by %.1f K", rise)
	}
}

// With the mains off an empty fridge warms by 1 °F in 3 to 5 min at first (from
// memory), then towards the room on its own time constant.
func TestFridgeWithoutMains(t *testing.T) {
	f := storyFridge()
	w := quiet(f)
	f.Mains(false)
	from := f.Air()
	w.Advance(w.Now().Add(f.Leak))
	if want := 22 + (from-22)*math.Exp(-1); math.Abs(f.Air()-want) > 0.02 {
		t.Errorf("after one time constant %.2f °C, want %.2f", f.Air(), want)
	}
	f = storyFridge()
	w = quiet(f)
	f.Mains(false)
	from = f.Air()
	w.Advance(w.Now().Add(3 * time.Minute))
	early := f.Air() - from
	w.Advance(w.Now().Add(2 * time.Minute))
	if late := f.Air() - from; early > 5.0/9 || late < 5.0/9 {
		t.Errorf("air rose by %.2f K in 3 min and %.2f in 5", early, late)
	}
}

// A door ajar is worse than a compressor can answer, but far from the room.
func TestDoorAjarFindsALevel(t *testing.T) {
	f := storyFridge()
	f.DefrostEvery = 0
	w := quiet(f)
	f.Door(0.019)
	w.Advance(w.Now().Add(12 * time.Hour))
	// where leak and door let in what the compressor takes out
	want := 22 - f.Cooling/3600/(1/f.Leak.Seconds()+0.019/doorTau)
	if math.Abs(f.Air()-want) > 0.05 {
		t.Errorf("air %.2f °C, want %.2f", f.Air(), want)
	}
	f.Door(0)
	w.Advance(w.Now().Add(3 * time.Hour))
	if f.Air() > f.SetC+f.SwingC {
		t.Errorf("three hours after the door was shut the air is at %.2f °C", f.Air())
	}
}

func TestFridgeFollowsItsDial(t *testing.T) {
	f := storyFridge()
	f.DefrostEvery = 0
	w := quiet(f)
	f.Set(6)
	sum, n := 0.0, 0.0
	w.Advance(w.Now().Add(6 * time.Hour))
	every(w, 12*time.Hour, func() { sum += f.Air(); n++ })
	if mean := sum / n; math.Abs(mean-6) > 0.4 {
		t.Errorf("set to 6 °C, mean air %.2f", mean)
	}
}

// Warm slabs warm the fridge they are put into.
func TestWarmLoadIsFelt(t *testing.T) {
	duty := func(loaded bool) float64 {
		f := storyFridge()
		f.DefrostEvery = 0
		w := quiet(f)
		for range 3 {
			s := NewSlab("A", 38, 2300, 60, skin)
			if loaded {
				s.Move(f, racked)
			}
			w.AddSlab(s)
		}
		on := 0.0
		every(w, 2*time.Hour, func() {
			if f.Running() {
				on++
			}
		})
		return on / 720
	}
	if empty, full := duty(false), duty(true); full < empty+0.2 {
		t.Errorf("compressor runs %.2f of the time empty and %.2f with 7 kg at 60 °C", empty, full)
	}
}

package sim

import (
	"cmp"
	"slices"
	"testing"
	"time"

	"flitch/process"
)

var cores = []string{"core-a", "core-b", "core-c"}

// cores returns one value of the three cores, sample by sample: the lowest for the
// cook, the warmest for the chill.
func (s told) cores(from, to time.Time, pick func(...float64) float64) []point {
	a, b, c := s.between(cores[0], from, to), s.between(cores[1], from, to), s.between(cores[2], from, to)
	all := make([]point, 0, len(c))
	for i := range c {
		all = append(all, point{c[i].at, pick(a[i].c, b[i].c, c[i].c)})
	}
	return all
}

func lowest(v ...float64) float64  { return min(v[0], v[1], v[2]) }
func warmest(v ...float64) float64 { return max(v[0], v[1], v[2]) }

func (s told) heat(t *testing.T) (from, to time.Time) {
	t.Helper()
	return s.said(t, process.CommandStage, "smoke").At, s.said(t, process.CommandStage, "rest").At
}

// Come-up, 10 to 54.4 °C: under 6 h for every core.
func TestComeUpIsQuick(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		from, to := s.heat(t)
		for _, core := range cores {
			all := spells(s.between(core, from, to), func(c float64) bool { return c >= 10 && c <= 54.4 })
			d := all[len(all)-1].to.Sub(all[0].from)
			if d < time.Hour || d > 6*time.Hour {
				t.Errorf("%s: %s between 10 and 54.4 °C", core, d)
			}
		}
	})
}

// H5: the slowest core is not 1 K above what it was 45 min before, while below
// 65.6 °C: one spell, in the cook, with a wide gap to the chamber.
func TestOneStall(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		from, to := s.heat(t)
		slow := s.cores(from, to, lowest)
		var gains []point // over 45 min
		const back = 90   // samples of 30 s
		for i := back; i < len(slow) && slow[i].c < 65.6; i++ {
			coldest := slices.MinFunc(slow[i-back:i], func(a, b point) int { return cmp.Compare(a.c, b.c) })
			gains = append(gains, point{slow[i].at, slow[i].c - coldest.c})
		}
		stalls := joined(spells(gains, func(k float64) bool { return k < 1 }), 5*time.Minute)
		if len(stalls) != 1 {
			t.Fatalf("%d stalls: %v", len(stalls), stalls)
		}
		ack := s.said(t, process.CommandAcknowledge, "H5").At
		if ack.Before(stalls[0].from.Add(10*time.Minute)) || ack.After(stalls[0].to) {
			t.Errorf("H5 from %s to %s, acknowledged at %s", stalls[0].from, stalls[0].to, ack)
		}
		if at := s.said(t, process.CommandStage, "cook").At; stalls[0].from.Before(at) {
			t.Errorf("the stall of %s begins before the cook", stalls[0].from)
		}
		core, chamber := s.between("core-c", ack, ack)[0].c, s.between("kettle-chamber", ack, ack)[0].c
		if core < 43.3 || core > 60 || chamber-core < 14 {
			t.Errorf("stalled at %.1f °C under a chamber of %.1f", core, chamber)
		}
	})
}

// The row 150 °F, 67 s of the 6.5-log column of FSIS Appendix A (2021), by the
// lowest core less 0.5 K. No core reaches 4 K above the target.
func TestLethalityRowIsReached(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		from, to := s.heat(t)
		held := longer(spells(s.cores(from, to, lowest), func(c float64) bool { return c-0.5 >= 65.56 }), 67*time.Second)
		if len(held) == 0 {
			t.Fatal("the row is not reached")
		}
		ack := s.said(t, process.CommandAcknowledge, "H8").At
		if met := held[0].from.Add(67 * time.Second); ack.Before(met) {
			t.Errorf("target held at %s, acknowledged at %s", met, ack)
		}
		for _, p := range s.cores(from, to.Add(time.Hour), warmest) {
			if p.c >= 65.6+4 {
				t.Fatalf("core at %.1f °C at %s", p.c, p.at)
			}
		}
	})
}

// The fire burns: never 17 K below what the stage asks for, once it was reached,
// for as long as 10 min.
func TestFireStaysLit(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		from, to := s.heat(t)
		cook := s.said(t, process.CommandStage, "cook").At
		check := func(series []point, set float64) {
			for i, p := range series {
				if p.c >= set {
					series = series[i:]
					break
				}
			}
			if cold := longer(spells(series, func(c float64) bool { return c < set-17 }), 10*time.Minute); len(cold) > 0 {
				t.Errorf("chamber 17 K below %.0f °C from %s to %s", set, cold[0].from, cold[0].to)
			}
		}
		check(s.between("kettle-chamber", from, cook), StorySmokeC)
		check(s.between("kettle-chamber", cook, to), StoryCookC)
	})
}

// The chill, by the warmest core: 54.4 to 26.7 °C takes longer than 5 h, so that
// neither 1.5 h (B1) nor 5 h (B3) is met; the second leg takes less than 5 h.
func TestFirstLegOfTheChillIsTooSlow(t *testing.T) {
	eachSeed(t, func(t *testing.T, s told) {
		_, off := s.heat(t)
		warm := s.cores(off, s.steps[len(s.steps)-1].At, warmest)
		above := func(limit float64) time.Time {
			all := spells(warm, func(c float64) bool { return c > limit })
			return all[len(all)-1].to
		}
		begins, cool, cold, last := above(54.4), above(26.7), above(7.2), above(4.4)
		if d := cool.Sub(begins); d < 5*time.Hour+10*time.Minute || d > 5*time.Hour+30*time.Minute {
			t.Errorf("first leg %s", d)
		}
		if d := cold.Sub(cool); d < time.Hour || d > 5*time.Hour {
			t.Errorf("second leg %s", d)
		}
		if last.Sub(cool) > 10*time.Hour || !last.Before(warm[len(warm)-1].at) {
			t.Errorf("above 4.4 °C until %s", last)
		}
		limit := begins.Add(5 * time.Hour)
		if ack := s.said(t, process.CommandAcknowledge, "L3").At; ack.Before(limit.Add(5 * time.Minute)) {
			t.Errorf("L3 at %s, acknowledged at %s", limit, ack)
		}
		// 40 % of the leg is the first time a forecast rings, two of them 10 min apart.
		due := begins.Add(2*time.Hour + 10*time.Minute)
		if ack := s.said(t, process.CommandAcknowledge, "L2").At; ack.Before(due) || ack.After(limit.Add(-time.Hour)) {
			t.Errorf("L2 from %s, acknowledged at %s", due, ack)
		}
		// While the forecast is asked for, the shed is too warm to get there at all.
		for _, p := range s.between("shed-air", begins.Add(2*time.Hour), due) {
			if p.c < 26.7-0.3 {
				t.Errorf("shed at %.1f °C at %s", p.c, p.at)
			}
		}
	})
}

// The record is written by hand at the end.
func TestStoryEndsHeld(t *testing.T) {
	s := tell(t, 0)
	last := s.commands[len(s.commands)-1]
	if last.Kind != process.CommandNote || !last.At.Equal(s.steps[len(s.steps)-1].At) {
		t.Errorf("the story ends with %+v", last)
	}
}

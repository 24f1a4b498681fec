package heat

import "math"

// The stall: a core that rises far slower for the heat offered to it than it did,
// because drying takes the heat. Slower than 20 minutes of readings cannot tell.
const (
	stallFromC  = 50.0 // °C of the core, from
	stallToC    = 85.0 // to
	stallShyC   = 3.0  // K under the target, from where it no longer matters
	stallStart  = 0.30 // of the reference: it stalls
	stallEnd    = 0.38 // of the reference: it rises again
	stallMin    = 15.0 // minutes either must hold
	stallZ      = 1.645
	stallDriveC = 14.0 // K between chamber and core, 25 °F: under it no heat is left to give (the trade's stall card)
	slopeDouble = 2.0  // on the standard error: noise of neighbouring minutes is alike
	leastSigmaC = 0.05 // K, resolution
	kappaFromC  = 20.0 // °C of the core, from which its rise is a reference
	kappaPart   = 0.80 // the reference is this percentile
	kappaLeast  = 30   // values before there is one
	windowMax   = 60.0 // minutes the 31 readings may span
)

// stall opens and closes the event of a stall. It is frozen while the core cannot
// be believed, and while a lid is open or the fire out.
func (w *CookWatch) stall(now float64, usable bool, passed float64) {
	if !usable || w.Lid.Open || w.Fire.Open {
		w.Low.freeze(passed)
		w.High.freeze(passed)
		return
	}
	slope, drive, ok := w.rise()
	if !ok {
		return
	}
	core := w.Cores.last().C
	if core > kappaFromC {
		w.Kappas.add(slope.PerHour / drive)
	}
	reference, ok := w.Kappas.percentile(kappaPart)
	if !ok {
		return
	}
	margin := stallZ * slope.Se
	if w.Slow.Open {
		fast := (slope.PerHour-margin)/drive > stallEnd*reference
		if w.High.holds(now, fast) >= stallMin {
			w.clear(&w.Slow, w.High.From, now)
			w.High = Since{}
		}
		return
	}
	near := w.TargetC != 0 && core >= w.TargetC-stallShyC
	slow := core >= stallFromC && core <= stallToC && !near && drive >= stallDriveC && (slope.PerHour+margin)/drive < stallStart*reference
	if w.Low.holds(now, slow) >= stallMin {
		w.open(&w.Slow, CookEvent{Kind: Stall, From: w.Low.From, Detected: now, BeforeC: core})
		w.Low = Since{}
	}
}

// rise is the slope of the core over its window, its standard error widened for
// noise that is not independent, and the drive: chamber less core, K. ok is false
// with too few readings, or a drive under which nothing can be told.
func (w *CookWatch) rise() (s Slope, drive float64, ok bool) {
	if w.Cores.N < len(w.Cores.At) || w.Cores.last().Min-w.Cores.At[0].Min > windowMax {
		return Slope{}, 0, false
	}
	var values [71]float64
	n := 0
	for _, c := range w.Chambers.since(w.Cores.At[0].Min) {
		values[n] = c.C
		n++
	}
	if n == 0 {
		return Slope{}, 0, false
	}
	drive = median(values[:n]) - w.Cores.last().C
	s, ok = w.Cores.slope()
	s.SigmaC = max(s.SigmaC, leastSigmaC)
	s.Se = slopeDouble * SlopeSe(s.SigmaC, w.Cores.At[:w.Cores.N])
	return s, drive, ok && drive >= minDriveC
}

// Rates counts drive-normalised slopes, 1/h, in classes of a fiftieth each, so
// that a percentile is known to a hundredth however long the cook.
type Rates struct {
	N     uint32
	Under uint32        // slower than the slowest class, or falling
	Class [rates]uint16 // of the value ratesFrom e^(i/50) 1/h and up
}

const (
	rates     = 350
	ratesFrom = 0.005 // 1/h; the last class is 5.4
	ratesPerE = 50.0
)

func (r *Rates) add(perHour float64) {
	r.N++
	if !(perHour >= ratesFrom) {
		r.Under++
		return
	}
	i := min(int(ratesPerE*math.Log(perHour/ratesFrom)), rates-1)
	if r.Class[i] < math.MaxUint16 {
		r.Class[i]++
	}
}

// percentile returns the value under which a part of the values lie. ok is false
// with too few of them, or when it is not a rise.
func (r *Rates) percentile(part float64) (float64, bool) {
	if r.N < kappaLeast {
		return 0, false
	}
	want := part*float64(r.N) - float64(r.Under)
	if want <= 0 {
		return 0, false
	}
	for i, n := range r.Class {
		if float64(n) >= want {
			return ratesFrom * math.Exp((float64(i)+want/float64(n))/ratesPerE), true
		}
		want -= float64(n)
	}
	return 0, false
}

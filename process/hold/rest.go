package hold

// A resting compressor lets the air rise by restC in restLeast to restMost minutes,
// evenly: each quarter of that time has its part. Within turnMost minutes of its warmest
// the air is restC cooler again. A door lets it jump, a warming room takes longer and
// does not turn, and a defrost warms it by more than defrostLeast. All are choices of
// this project, as are the number of rests before there is a pattern and the mean time
// between them up to which it is one.
const (
	restC     = 0.5 // K
	restLeast = 7.0 // min
	restMost  = 15.0
	restFirst = 0.1 // least part of the rise in a quarter of the time
	restPart  = 0.5 // and the most
	turnMost  = 20.0
	restsMany = 12
	restsMean = 90.0 // min
	restBlind = 30.0 // min without air, after which nobody knows when it rested last
)

// Rests are the rests of the compressor, by the air.
type Rests struct {
	N        int     // seen so far
	LastMin  float64 // minute of the last, or from which on one is waited for
	EveryMin float64 // slow mean of the time between them
	AirMin   float64 // minute of the last air
	Tooth    Tooth
}

// A Tooth is a rise that will be a rest if the air turns.
type Tooth struct {
	On                   bool
	LowC, PeakC, PeakMin float64
}

// rest follows the rests.
func (w *FridgeWatch) rest(now float64) {
	r, airC := &w.Rests, w.Airs.last().C
	if r.AirMin == 0 || now-r.AirMin > restBlind {
		r.LastMin, r.Tooth = now, Tooth{}
	}
	r.AirMin = now
	tooth := &r.Tooth
	tall := tooth.PeakC-tooth.LowC > defrostLeast
	switch {
	case !tooth.On:
		if lowC, ok := w.Airs.risesEvenly(now); ok && !w.Rise.On {
			*tooth = Tooth{true, lowC, airC, now}
		}
	case airC > tooth.PeakC:
		tooth.PeakC, tooth.PeakMin = airC, now
	case tall:
		if airC <= (tooth.LowC+tooth.PeakC)/2 {
			*tooth = Tooth{}
		}
	case now-tooth.PeakMin > turnMost:
		*tooth = Tooth{}
	case airC <= tooth.PeakC-restC:
		r.N++
		every := min(now-r.LastMin, 2*restsMean) // a day with a fault is no pattern
		r.EveryMin += (every - r.EveryMin) / float64(min(r.N, restsMany))
		r.LastMin, *tooth = now, Tooth{}
	}
}

// SinceRest is for how many minutes the compressor has not rested. ok is false while
// there is no pattern that it could have left: too few rests so far, or far apart, or
// a compressor that never stops by design.
func (w *FridgeWatch) SinceRest(now float64) (minutes float64, ok bool) {
	r := &w.Rests
	return now - r.LastMin, r.N >= restsMany && r.EveryMin <= restsMean
}

// risesEvenly reports whether the air has risen by restC within restMost minutes, and
// as it does in a rest, and from what.
func (r *RecentAir) risesEvenly(now float64) (lowC float64, ok bool) {
	for _, from := range r.since(now - restMost) {
		if now-from.Min < restLeast {
			return 0, false
		}
		if rise := r.last().C - from.C; rise >= restC && !r.fell(from.Min, fallC) && r.even(from, rise) {
			return from.C, true
		}
	}
	return 0, false
}

// even reports whether each quarter of the time since from has its part of the rise.
func (r *RecentAir) even(from AirAt, rise float64) bool {
	last := from.C
	for q := 1.0; q <= 4; q++ {
		at := r.since(from.Min + q/4*(r.last().Min-from.Min))[0].C
		if part := (at - last) / rise; part < restFirst || part > restPart {
			return false
		}
		last = at
	}
	return true
}

package hold

// A resting compressor lets the air rise by restC in restLeast to restMost minutes,
// evenly: each half of that time has its part. A door lets it jump, and with the
// compressor at work it falls at once; a warming room takes longer. All are choices
// of this project, as are the number of rests before there is a pattern and the mean
// time between them up to which it is one.
const (
	restC     = 0.5 // K
	restLeast = 7.0 // min
	restMost  = 15.0
	restPart  = 0.3 // of the rise, in each half
	restsMany = 12
	restsMean = 90.0 // min
	restBlind = 30.0 // min without air, after which nobody knows when it rested last
)

// Rests are the rests of the compressor, by the air.
type Rests struct {
	N        int     // seen so far
	LastMin  float64 // minute of the last, or from which on one is waited for
	EveryMin float64 // slow mean of the time between them
	Resting  bool    // one is under way
	AirMin   float64 // minute of the last air
}

// rest follows the rests.
func (w *FridgeWatch) rest(now float64) {
	r := &w.Rests
	if r.AirMin == 0 || now-r.AirMin > restBlind {
		r.LastMin = now
	}
	r.AirMin = now
	rising := !w.Rise.On && w.Airs.risesEvenly(now)
	if rising && !r.Resting {
		r.N++
		r.EveryMin += (now - r.LastMin - r.EveryMin) / float64(min(r.N, restsMany))
	}
	if rising {
		r.LastMin = now
	}
	r.Resting = rising
}

// SinceRest is for how many minutes the compressor has not rested. ok is false while
// there is no pattern that it could have left: too few rests so far, or far apart, or
// a compressor that never stops by design.
func (w *FridgeWatch) SinceRest(now float64) (minutes float64, ok bool) {
	r := &w.Rests
	return now - r.LastMin, r.N >= restsMany && r.EveryMin <= restsMean
}

// risesEvenly reports whether the air has risen by restC within restMost minutes, and
// as it does in a rest.
func (r *RecentAir) risesEvenly(now float64) bool {
	for _, from := range r.since(now - restMost) {
		if now-from.Min < restLeast {
			return false
		}
		rise := r.last().C - from.C
		if rise < restC || r.fell(from.Min, fallC) {
			continue
		}
		half := r.since((from.Min + now) / 2)[0].C - from.C
		if half >= restPart*rise && rise-half >= restPart*rise {
			return true
		}
	}
	return false
}

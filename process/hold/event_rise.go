package hold

import "math"

// A door lets the air rise by more than riseC in riseMin. What goes back half-way
// was a door, or a defrost if it rose by 3 to 8 K for 15 to 40 minutes; what does
// not in half an hour is a door ajar.
const (
	riseC        = 2.0 // K
	riseMin      = 6.0
	againC       = 1.0 // K of fall, after which a rise is one more opening
	warnMin      = 20.0
	ajarMin      = 30.0
	defrostLeast = 3.0  // K
	defrostMost  = 8.0  // K
	defrostFrom  = 15.0 // min
	defrostTo    = 40.0 // min
	periodPart   = 0.15 // defrosts repeat within this part of their period
)

// A Rise is a fast rise of the air that is not told yet.
type Rise struct {
	From         float64 // minute
	BaseC, PeakC float64 // air before it and at its warmest, °C
	LowC         float64 // lowest since the peak, °C
	On           bool
}

// rise follows fast rises of the air.
func (w *FridgeWatch) rise(now, airC float64) {
	if !w.Rise.On {
		if !w.Fail.Open {
			w.begin(airC)
		}
		return
	}
	r := &w.Rise
	switch {
	case airC >= r.PeakC:
		if r.PeakC-r.LowC >= againC && airC-r.LowC > riseC && !w.Ajar.Open {
			w.again(now)
		}
		r.PeakC, r.LowC = airC, airC
	default:
		r.LowC = min(r.LowC, airC)
	}
	if airC <= r.BaseC+(r.PeakC-r.BaseC)/2 {
		w.settle(now)
		return
	}
	w.linger(now, airC)
}

// begin opens a rise over the lowest of the last riseMin minutes.
func (w *FridgeWatch) begin(airC float64) {
	recent := w.Airs.since(w.Airs.last().Min - riseMin)
	low := 0
	for i, s := range recent {
		if s.C <= recent[low].C {
			low = i
		}
	}
	if base := recent[low]; airC-base.C > riseC {
		w.Rise = Rise{From: recent[low+1].Min, BaseC: base.C, PeakC: airC, LowC: airC, On: true}
		w.Warned = false
	}
}

// again counts a door that is opened once more before the air was half-way back.
func (w *FridgeWatch) again(now float64) {
	w.told(DoorOpen, now)
	w.Rise.From = now
}

// settle says what a rise was that has gone back half-way.
func (w *FridgeWatch) settle(now float64) {
	w.CalmMin = now
	switch {
	case w.Ajar.Open:
		w.Ajar.PeakC = w.Rise.PeakC
		w.clear(&w.Ajar, now, now)
	case w.defrostLike(now):
		w.told(Defrost, now)
		w.learn(w.Rise.From)
	default:
		w.told(DoorOpen, now)
	}
	w.Rise = Rise{}
}

// told reports an event that is over.
func (w *FridgeWatch) told(k Kind, now float64) {
	if k == Defrost {
		w.Defrosts++
	} else {
		w.Doors++
	}
	w.change(Event{Kind: k, From: w.Rise.From, Detected: now, To: now, Cleared: now, BaseC: w.Rise.BaseC, PeakC: w.Rise.PeakC})
}

// defrostLike reports a rise as high as a defrost's and as long so far, at a time
// when one may be: any, until the period is known.
func (w *FridgeWatch) defrostLike(now float64) bool {
	lasted := now - w.Rise.From
	return w.mayDefrost() && w.Rise.PeakC-w.Rise.BaseC >= defrostLeast && lasted >= defrostFrom && lasted <= defrostTo
}

func (w *FridgeWatch) mayDefrost() bool {
	if w.Rise.PeakC-w.Rise.BaseC > defrostMost {
		return false
	}
	period, known := w.Period()
	if !known {
		return true
	}
	periods := math.Round((w.Rise.From - w.Starts[3]) / period)
	off := math.Abs(w.Rise.From - w.Starts[3] - periods*period)
	return periods >= 1 && off <= periodPart*period
}

// learn keeps the beginning of a defrost.
func (w *FridgeWatch) learn(from float64) {
	copy(w.Starts[:], w.Starts[1:])
	w.Starts[3] = from
	w.NStarts = min(w.NStarts+1, len(w.Starts))
}

// Period is the period of the defrosts, minutes. It is known when the last three
// intervals agree within periodPart.
func (w *FridgeWatch) Period() (minutes float64, known bool) {
	if w.NStarts < len(w.Starts) {
		return 0, false
	}
	mean := (w.Starts[3] - w.Starts[0]) / 3
	for i := range 3 {
		if math.Abs(w.Starts[i+1]-w.Starts[i]-mean) > periodPart*mean {
			return 0, false
		}
	}
	return mean, true
}

// linger warns of a door that may be ajar, and then says so. A rise that may be a
// defrost gets the time of one, and no warning before.
func (w *FridgeWatch) linger(now, airC float64) {
	lasted, patience, warn := now-w.Rise.From, ajarMin, warnMin
	if w.mayDefrost() {
		patience, warn = defrostTo, defrostTo
	}
	if _, reaches := w.minutesIn(airC); reaches && !w.Warned && lasted >= warn {
		w.Warned, w.WarnedMin = true, now
	}
	if !w.Ajar.Open && lasted >= patience {
		w.open(&w.Ajar, Event{Kind: DoorAjar, From: w.Rise.From, Detected: now, BaseC: w.Rise.BaseC, PeakC: w.Rise.PeakC})
	}
}

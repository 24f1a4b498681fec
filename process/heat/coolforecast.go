package heat

import "math"

// ensembleFromC is the core, °C, over which an unsteady chill is forecast by the
// ensemble (choice of this project). Under it the legs of every rule have begun, and
// an ensemble that has seen an hour of the meat calls legs late that are not.
const ensembleFromC = 54.0

// A CoolWatch forecasts one core on its way down, a minute at a time: by Newton's
// law once the core falls steadily, by an ensemble before that while it is hot, when
// Newton would be hours late. The chill alarm of process does not use it: that goes
// by FitCooling alone.
type CoolWatch struct {
	Core, Air Recent71
	Ensemble  *Ensemble
}

// NewCoolWatch is a watch for a chill that begins with its first minute.
func NewCoolWatch() *CoolWatch { return &CoolWatch{Ensemble: NewChillEnsemble()} }

// Advance takes the next minute; ChamberC is the air of the fridge.
func (w *CoolWatch) Advance(m Minute) {
	if !finite(m.Min) || w.Core.N > 0 && m.Min <= w.Core.last().Min || w.Air.N > 0 && m.Min <= w.Air.last().Min {
		return
	}
	if finite(m.CoreC) && m.Flags&(BadCore|NoCore) == 0 {
		w.Core.push(Sample{m.Min, m.CoreC})
	}
	if finite(m.ChamberC) && m.Flags&(BadChamber|NoChamber) == 0 {
		w.Air.push(Sample{m.Min, m.ChamberC})
	}
	w.Ensemble.Advance(m)
}

// A CoolOutlook is when a core will be at a limit.
type CoolOutlook struct {
	At, Early, Late ETA     // best figure and 80 % interval
	PLate           float64 // probability of being there after its time, 0 to 1
	Newton          bool    // by Newton's law; else by the ensemble
	AirNeededC      float64 // air that would still make it, °C, valid with AirKnown
	AirKnown        bool
}

// Forecast says when the core passes limitC, °C, and how probably that is later than
// in leftMin minutes, in air as it is now. ok is false when neither law can say: not
// yet steady, and no longer hot.
func (w *CoolWatch) Forecast(limitC, leftMin float64) (o CoolOutlook, ok bool) {
	if w.Core.N == 0 {
		return CoolOutlook{}, false
	}
	fit, steady, fitted := FitCooling(w.Core.At[:w.Core.N], w.Air.At[:w.Air.N])
	if fitted && steady {
		o = newtonOutlook(fit, limitC, leftMin)
	} else if w.Core.last().C <= ensembleFromC {
		return CoolOutlook{}, false
	} else if o, ok = w.ensembleOutlook(limitC, leftMin); !ok {
		return CoolOutlook{}, false
	}
	if fitted && fit.NowC > limitC && leftMin > 0 {
		o.AirNeededC, o.AirKnown = fit.AirNeeded(limitC, leftMin/60), true
	}
	return o, true
}

// Ahead is the probability that a leg that has not begun, from fromC to toC, °C,
// takes longer than limitMin minutes in air as it is now. ok is false before half an
// hour of the chill, or once the core is at fromC: Forecast tells of that.
func (w *CoolWatch) Ahead(fromC, toC, limitMin float64) (pLate float64, ok bool) {
	if w.Core.N == 0 || w.Core.last().C <= fromC {
		return 0, false
	}
	return w.Ensemble.leg(fromC, toC, limitMin)
}

func newtonOutlook(fit Cooling, limitC, leftMin float64) CoolOutlook {
	x, ever := fit.Crossing(limitC)
	if !ever {
		never := ETA{Never: true}
		return CoolOutlook{At: never, Early: never, Late: never, PLate: 1, Newton: true}
	}
	early, late := x.Interval()
	return CoolOutlook{At: ETA{Min: 60 * x.Hours}, Early: ETA{Min: 60 * early}, Late: ETA{Min: 60 * late},
		PLate: x.Late(leftMin / 60), Newton: true}
}

func (w *CoolWatch) ensembleOutlook(limitC, leftMin float64) (CoolOutlook, bool) {
	late, ok := w.Ensemble.PLate(limitC, leftMin)
	if !ok {
		return CoolOutlook{}, false
	}
	o := w.Ensemble.last
	return CoolOutlook{At: o.Point, Early: o.Early, Late: o.Late, PLate: late}, true
}

// A Rung is how bad a chill looks.
type Rung int

// The rungs. Broken is a fact, the others are forecasts.
const (
	Fine Rung = iota
	Watch
	Act
	Broken
)

func (r Rung) String() string {
	return [...]string{"fine", "watch", "act", "broken"}[min(max(r, Fine), Broken)]
}

// The probability of being late at which a rung begins, and how long it must be
// under half of that before the rung is left (choices of this project).
const (
	watchAt  = 0.10
	actAt    = 0.50
	stepDown = 15.0 // minutes
)

// A Ladder is the rung of one leg of a chill. The zero value is ready.
type Ladder struct {
	On   Rung
	Calm Since
}

// Step takes one forecast at a minute: the probability of being late, and the
// minutes left. It goes up one rung at most, down one after a while. NaN says that
// there is no forecast: only the passing of the time counts then.
func (l *Ladder) Step(now, pLate, leftMin float64) Rung {
	switch {
	case l.On == Broken:
	case leftMin <= 0:
		l.On = Broken
	case math.IsNaN(pLate):
		l.Calm = Since{}
	case pLate >= actAt && l.On < Act, pLate >= watchAt && l.On < Watch:
		l.On, l.Calm = l.On+1, Since{}
	case l.On > Fine:
		begins := watchAt
		if l.On == Act {
			begins = actAt
		}
		if l.Calm.holds(now, pLate < begins/2) >= stepDown {
			l.On, l.Calm = l.On-1, Since{}
		}
	}
	return l.On
}

package heat

import "math"

// A Flag marks a minute's number that is no measurement.
type Flag uint8

// Bad is what the tests of one sample reject (no number, a code of the sensor, out
// of range, a spike). A core that changes too fast is not Bad: here it means that
// the probe was pulled.
const (
	BadCore    Flag = 1 << iota // came and is none
	BadChamber                  // came and is none
	NoCore                      // nothing came
	NoChamber                   // nothing came
	Unlit                       // no fire is meant to burn: no lid, lost fire or stall is looked for
)

// A Minute is one minute of a cook: medians of what came in it.
type Minute struct {
	Min      float64 // minutes from any start, later than that of the minute before
	ChamberC float64 // °C
	CoreC    float64 // °C
	Flags    Flag
}

// A Kind of event in a cook.
type Kind string

// The events, in the order in which they are told apart.
const (
	BadSample Kind = "bad-sample"
	Gap       Kind = "gap"
	ProbeOut  Kind = "probe-out"
	Stuck     Kind = "stuck"
	LidOpen   Kind = "lid-open"
	FireOut   Kind = "fire-out"
	Stall     Kind = "stall"
)

// A CookEvent is something that happened. Times are minutes, as in Minute. From
// and To are when it happened, Detected and Cleared when that could be said.
type CookEvent struct {
	Kind              Kind
	From, Detected    float64
	To, Cleared       float64 // valid when not Open
	Open              bool
	BeforeC, ExtremeC float64 // lid: chamber before it and lowest since; probe: core before it
}

// A CookWatch follows one core in one chamber, a minute at a time, and tells apart
// what happens: an event that spoils the core's reading hides a stall, and so does
// one of the chamber. Trouble of the core does not hide trouble of the chamber: a
// fire goes out whether or not the probe is in the meat.
//
// The zero value with a target is ready. It holds no pointers: it can be copied,
// and stored as JSON between any two minutes. All thresholds are choices of this
// project, set before they were tried on synthetic cooks; none comes from a source.
type CookWatch struct {
	TargetC float64 // °C the core is to reach; 0 when unknown
	RoomC   float64 // °C of the room a pulled probe falls to; 0 means DefaultRoomC
	RateMax float64 // K/min that the core can change by, see Body.RateMax; 0 when its size is unknown

	Bad, Hole, Out, Flat, Lid, Fire, Slow CookEvent // the newest of each kind

	Cores    Recent31 // good readings of the core
	Chambers Recent71 // good readings of the chamber
	Kappas   Rates    // drive-normalised slopes so far

	Run       Run     // of identical core readings
	Back      Since   // pulled probe reads as forecast again
	Lower     Since   // pulled probe reads as forecast or lower, and no room
	Away      float64 // what it read the minute before, °C
	Over      bool    // it read more than forecast, and has not fallen by itself since
	Creep     Creep   // core moves as no meat does
	Hasty     bool    // core went farther than a piece of its size can, not yet so far that it tells
	Cold      Since   // fire seems out
	Low, High Since   // rise is under, over the limits of a stall
	LastMin   float64 // newest minute seen
	Started   bool

	changed  [7]CookEvent
	nChanged int
}

// DefaultRoomC is the temperature of a room nobody measured (common practice).
const DefaultRoomC = 20.0

// gapMin is how many minutes may pass without a core before that is a gap.
const gapMin = 5.0

// A Since is a condition that holds from a minute on.
type Since struct {
	From   float64 // minute
	Frozen float64 // minutes since then that do not count
	On     bool
}

// holds notes whether the condition holds now and returns for how long it has.
func (s *Since) holds(now float64, on bool) float64 {
	if !on {
		*s = Since{}
		return -1
	}
	if !s.On {
		*s = Since{From: now, On: true}
	}
	return now - s.From - s.Frozen
}

// freeze lets the minutes that passed not count.
func (s *Since) freeze(passed float64) {
	if s.On {
		s.Frozen += passed
	}
}

// Add takes the next minute and returns the events that were detected (Open) or
// cleared in it, in the order of their kinds. The slice is overwritten by the next
// call. A minute not after the last one, or of no finite time, is left out.
func (w *CookWatch) Add(m Minute) []CookEvent {
	if math.IsNaN(m.Min) || math.IsInf(m.Min, 0) || w.Started && m.Min <= w.LastMin {
		return nil
	}
	if !w.Started {
		w.Started, w.LastMin = true, m.Min
	}
	w.nChanged = 0
	passed := m.Min - w.LastMin
	core := finite(m.CoreC) && m.Flags&(BadCore|NoCore) == 0
	chamber := finite(m.ChamberC) && m.Flags&(BadChamber|NoChamber) == 0
	w.samples(m)
	w.gap(m.Min, core)
	if chamber {
		w.Chambers.push(Sample{m.Min, m.ChamberC})
	}
	usable := core && w.probe(m) && w.moving(m)
	if m.Flags&Unlit == 0 {
		if chamber {
			w.lid(m.Min, m.ChamberC)
			w.fire(m.Min, m.ChamberC)
		}
		w.stall(m.Min, usable, passed)
	}
	w.LastMin = m.Min
	return w.changed[:w.nChanged]
}

// CoreCounts reports whether the core of the newest minute may be believed: it was
// no bad sample, did not move as no meat does, and the probe is neither out nor
// stuck. A stuck probe is known only after a while; Flat.From says since when.
func (w *CookWatch) CoreCounts() bool {
	return w.Started && !w.Bad.Open && !w.Hole.Open && !w.Out.Open && !w.Flat.Open && !w.Creep.On && !w.Hasty &&
		w.Cores.N > 0 && w.Cores.last().Min == w.LastMin
}

// Moved says that a person brought the meat to another place: what the chamber did
// before says nothing about it. A probe that is out or stuck stays so. It returns the
// events that end with it, as Add does.
func (w *CookWatch) Moved(at float64) []CookEvent {
	w.nChanged = 0
	for _, e := range []*CookEvent{&w.Lid, &w.Fire, &w.Slow} {
		if e.Open {
			w.clear(e, at, at)
		}
	}
	w.Chambers, w.Kappas = Recent71{}, Rates{}
	w.Cold, w.Low, w.High = Since{}, Since{}, Since{}
	return w.changed[:w.nChanged]
}

// samples opens and closes the event of bad samples, of the core or the chamber.
func (w *CookWatch) samples(m Minute) {
	bad := m.Flags&(BadCore|BadChamber) != 0
	switch {
	case bad && !w.Bad.Open:
		w.open(&w.Bad, CookEvent{Kind: BadSample, From: m.Min, Detected: m.Min})
	case !bad && w.Bad.Open && m.Flags == 0:
		w.clear(&w.Bad, m.Min, m.Min)
	}
}

// gap opens when no good core came for gapMin minutes.
func (w *CookWatch) gap(now float64, core bool) {
	if core {
		if w.Hole.Open {
			w.clear(&w.Hole, now, now)
		}
		return
	}
	if w.Out.Open || w.Hole.Open || w.Cores.N == 0 {
		return
	}
	if last := w.Cores.last().Min; now-last > gapMin {
		w.open(&w.Hole, CookEvent{Kind: Gap, From: last + 1, Detected: now})
	}
}

func (w *CookWatch) open(e *CookEvent, as CookEvent) {
	*e = as
	e.Open = true
	w.change(*e)
}

func (w *CookWatch) clear(e *CookEvent, to, at float64) {
	e.close(to, at)
	w.change(*e)
}

func (e *CookEvent) close(to, at float64) { e.To, e.Cleared, e.Open = to, at, false }

func (w *CookWatch) change(e CookEvent) {
	if w.nChanged < len(w.changed) {
		w.changed[w.nChanged] = e
		w.nChanged++
	}
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

package heat

import "math"

// A probe that is pulled jumps by more than pulledC and pulledPerMin, and is in
// again when it reads within backC of what the core must be by now for backMin.
const (
	pulledC      = 4.0 // K
	pulledPerMin = 2.5 // K/min
	backC        = 3.0 // K
	backMin      = 5.0
	cameC        = 1.5  // K a probe moves by itself when it is put back (proposal)
	creepPerMin  = 1.5  // K/min, over the noise of any probe
	creepPart    = 0.25 // of the way to the chamber in a minute: a strip of jerky goes a sixth
	lowerMin     = 15.0 // a probe put back in a colder place: as long as this ...
	roomC        = 5.0  // ... and this much over the room, K
	hastyC       = 1.0  // K beyond it that noise and the digits of a probe make up (proposal)
	stuckMin     = 20.0
	minDriveC    = 10.0 // K between chamber and core, under which nothing is to be told from a rise
)

// HastyMin is the time over which a core of known size is held against its ceiling,
// minutes (proposal).
const HastyMin = 10

// A Run is a row of identical readings of the core.
type Run struct {
	C     float64
	Since float64 // minute of the first of them
	Live  bool    // the readings before it changed as those of a working probe do
	On    bool
}

// probe tells whether the probe is in the meat, and keeps its reading if so.
func (w *CookWatch) probe(m Minute) bool {
	if w.Out.Open {
		w.returning(m)
		return false
	}
	if w.creeps(m) {
		w.Cores.N-- // the first of the two was no core either
		w.out(m, w.Creep.From)
		w.Creep = Creep{}
		return false
	}
	if w.Cores.N > 0 && w.pulled(m, w.Cores.last()) {
		w.out(m, m.Min)
		return false
	}
	if i := w.beyond(m, pulledC); i >= 0 {
		w.Cores.N = i + 1
		w.out(m, w.Cores.last().Min+1)
		return false
	}
	w.Hasty = w.beyond(m, hastyC) >= 0
	return true
}

// out opens the event of a probe that is not in the meat since a minute.
func (w *CookWatch) out(m Minute, from float64) {
	w.open(&w.Out, CookEvent{Kind: ProbeOut, From: from, Detected: m.Min, BeforeC: w.Cores.last().C})
	w.Back, w.Lower, w.Run, w.Hasty = Since{}, Since{}, Run{}, false
	w.Away, w.Over = m.CoreC, m.CoreC > w.Cores.last().C
}

// beyond is the newest good reading of the last minutes from which the core has gone
// farther than a piece of its size can, by more than a margin, K; -1 when there is none.
func (w *CookWatch) beyond(m Minute, marginC float64) int {
	if w.RateMax <= 0 {
		return -1
	}
	for i := w.Cores.N - 1; i >= 0 && m.Min-w.Cores.At[i].Min <= HastyMin; i-- {
		if math.Abs(m.CoreC-w.Cores.At[i].C) > marginC+w.RateMax*(m.Min-w.Cores.At[i].Min) {
			return i
		}
	}
	return -1
}

// A Creep is a minute in which the core moved as no meat does; a second one tells.
type Creep struct {
	From    float64 // minute
	BeforeC float64 // core before it, °C
	On      bool
}

// creeps reports the second minute in a row in which the core went toward the chamber
// by more of the way than meat can: a probe that hangs in air that is about as warm as
// the meat makes no jump.
func (w *CookWatch) creeps(m Minute) bool {
	if w.Cores.N < 2 || w.Chambers.N == 0 {
		return false
	}
	last := w.Cores.last()
	rate, drive := (m.CoreC-last.C)/(m.Min-last.Min), w.Chambers.last().C-last.C
	fast := math.Abs(rate) > creepPerMin && rate*drive > 0 && math.Abs(rate) > creepPart*math.Abs(drive)
	switch {
	case !fast:
		w.Creep = Creep{}
	case w.Creep.On:
		return true
	default:
		w.Creep = Creep{From: m.Min, BeforeC: last.C, On: true}
	}
	return false
}

// pulled reports a jump from the last good reading toward chamber or room.
func (w *CookWatch) pulled(m Minute, last Sample) bool {
	jump := m.CoreC - last.C
	perMin := max(pulledPerMin, w.RateMax) // thin meat is quicker; what thick meat cannot, beyond tells
	if math.Abs(jump) <= pulledC || math.Abs(jump) <= perMin*(m.Min-last.Min) {
		return false
	}
	toward := func(c float64) bool { return math.Abs(c-m.CoreC) < math.Abs(c-last.C) }
	return toward(w.room()) || w.Chambers.N > 0 && toward(w.Chambers.last().C)
}

func (w *CookWatch) room() float64 {
	if w.RoomC == 0 {
		return DefaultRoomC
	}
	return w.RoomC
}

// returning closes the event when the core reads as forecast for backMin: the last
// good reading and the rise before it, carried on. In a fire, a probe that was put
// back in a colder place is in again after lowerMin: what it reads is careful. Both
// count only when the reading came there by itself: the forecast climbs past what any
// probe in still air reads.
func (w *CookWatch) returning(m Minute) {
	last, expected := w.Cores.last(), w.Cores.last().C
	if s, ok := w.Cores.slope(); ok {
		expected += s.PerHour / 60 * (m.Min - last.Min)
	}
	moved := w.Away - m.CoreC // since the minute before, downward
	isNear := math.Abs(m.CoreC-expected) <= backC && (w.Back.On || math.Abs(moved) >= cameC)
	switch {
	case m.CoreC > expected+backC:
		w.Over = true
	case moved >= cameC:
		w.Over = false
	}
	isLower := !w.Over && m.Flags&Unlit == 0 && m.CoreC <= expected+backC && m.CoreC >= w.room()+roomC
	w.Away = m.CoreC
	near, lower := w.Back.holds(m.Min, isNear), w.Lower.holds(m.Min, isLower)
	switch {
	case near >= backMin:
		w.clear(&w.Out, w.Back.From, m.Min)
	case lower >= lowerMin:
		w.clear(&w.Out, w.Lower.From, m.Min)
		w.Cores = Recent31{} // of another place in the meat
	default:
		return
	}
	w.Back, w.Lower = Since{}, Since{}
	w.Cores.push(Sample{m.Min, m.CoreC})
}

// moving tells whether the core still moves. Tested before the stall: a stuck probe
// looks like a perfect one. A reading may stand still honestly when the probe
// resolves little, so the readings before must have been livelier.
func (w *CookWatch) moving(m Minute) bool {
	w.Cores.push(Sample{m.Min, m.CoreC})
	if !w.Run.On || m.CoreC != w.Run.C {
		w.Run = Run{C: m.CoreC, Since: m.Min, Live: w.Cores.live(), On: true}
		if w.Flat.Open {
			w.clear(&w.Flat, m.Min, m.Min)
			w.Cores = Recent31{} // twenty of them were no measurements
			w.Cores.push(Sample{m.Min, m.CoreC})
		}
		return true
	}
	drive := w.Chambers.N > 0 && w.Chambers.last().C-m.CoreC > minDriveC
	if !w.Flat.Open && w.Run.Live && drive && m.Min-w.Run.Since >= stuckMin {
		w.open(&w.Flat, CookEvent{Kind: Stuck, From: w.Run.Since, Detected: m.Min, BeforeC: m.CoreC})
	}
	return !w.Flat.Open
}

// live reports whether the readings have both risen and fallen, or changed more
// often than not: noise, or a rise the probe resolves. The steps of a coarse probe
// on a slow rise are neither.
func (r *Recent31) live() bool {
	ups, downs := 0, 0
	for i := 1; i < r.N; i++ {
		switch step := r.At[i].C - r.At[i-1].C; {
		case step > 0:
			ups++
		case step < 0:
			downs++
		}
	}
	return ups > 0 && downs > 0 || 2*(ups+downs) > r.N && r.N > 1
}

package heat

import "math"

const (
	members    = 1000
	cells      = 12
	markMin    = 15.0 // minutes between comparisons with what was measured
	leastESS   = 40.0 // effective sample size the weights are kept at
	heldMin    = 30.0 // the chamber of a forecast is the median of these minutes
	settleMin  = 5.0  // a first reading of the core is stable when it moved ...
	settleC    = 1.0  // ... no more than this in so long
	recordRoom = 1440 // minutes recorded before the record must grow
)

// An Ensemble forecasts a core with a thousand pieces of meat that might be this
// one: cylinders of different thickness, in different wind, wet and drying each in
// its own way. All follow the measured chamber; what each says about the core is
// weighed against what was measured. The pieces are fixed (a Halton sequence), so
// the same minutes give the same forecast.
//
// Its JSON is the minutes it was given. Read back, it follows them again when it is
// next used, about a millisecond for each minute: that costs a second once, where
// the state of the pieces would cost 150 kB each time.
type Ensemble struct {
	law    law
	pieces []piece
	misfit []float64 // log likelihood of each piece, tempered by age
	weight []float64 // what is left of it when 40 pieces count
	scores []score   // of the last forecast
	scored question  // and what it was asked
	record record
	behind bool // the record is to be followed yet

	cores    Recent31
	chambers Recent71
	settling Recent31
	begun    bool
	startMin float64
	lastMin  float64
	chamberC float64 // newest, °C
	nextMark float64
}

// record is what the ensemble was given.
type record struct {
	Humidity float64   `json:"humidity"`
	Minute   []float64 `json:"minute"`
	Chamber  []float64 `json:"chamber"`
	Core     []float64 `json:"core"`
	Flags    []Flag    `json:"flags"` // base64
}

// DefaultHumidity is the humidity of a chamber nobody measured, kg of water a kg of
// dry air (choice of this project).
const DefaultHumidity = 0.02

// NewCookEnsemble is an ensemble for a core that is heated, in a chamber of a
// humidity, kg of water a kg of dry air; 0 means DefaultHumidity. It begins with the
// first stable reading of the core.
func NewCookEnsemble(humidity float64) *Ensemble {
	if !(humidity > 0) {
		humidity = DefaultHumidity
	}
	e := &Ensemble{}
	e.reset(record{Humidity: humidity})
	return e
}

// Advance takes the next minute. Minutes not after the last one, or of no finite
// time, are left out. A chamber that is no number stays as it was; a core that is
// none is compared with nothing.
func (e *Ensemble) Advance(m Minute) {
	e.follow()
	if n := len(e.record.Minute); !finite(m.Min) || n > 0 && m.Min <= e.record.Minute[n-1] {
		return
	}
	if !finite(m.ChamberC) {
		m.ChamberC, m.Flags = 0, m.Flags|NoChamber
	}
	if !finite(m.CoreC) {
		m.CoreC, m.Flags = 0, m.Flags|NoCore
	}
	e.record.add(m)
	e.advance(m)
}

func (e *Ensemble) advance(m Minute) {
	if m.Flags&(BadChamber|NoChamber) == 0 {
		e.chambers.push(Sample{m.Min, m.ChamberC})
		e.chamberC = m.ChamberC
	}
	core := m.Flags&(BadCore|NoCore) == 0
	if e.chambers.N == 0 {
		return
	}
	if core && e.begun {
		e.cores.push(Sample{m.Min, m.CoreC})
	}
	if !e.begun {
		if core {
			e.begin(Sample{m.Min, m.CoreC})
		}
		return
	}
	in := e.law.in(e.chamberC)
	for i := range e.pieces {
		e.pieces[i].advance(&e.law, &in, e.lastMin-e.startMin, m.Min-e.lastMin)
	}
	e.lastMin = m.Min
	if m.Min >= e.nextMark {
		e.compare(m.Min, core)
		e.nextMark += markMin * math.Ceil((m.Min-e.nextMark+1e-9)/markMin)
	}
}

// begin starts the pieces when the core reads a stable temperature.
func (e *Ensemble) begin(s Sample) {
	e.settling.push(s)
	recent := since(e.settling.At[:e.settling.N], s.Min-settleMin)
	low, high := recent[0].C, recent[0].C
	for _, r := range recent {
		low, high = min(low, r.C), max(high, r.C)
	}
	if high-low > settleC || s.Min-recent[0].Min < settleMin {
		return
	}
	e.begun, e.startMin, e.lastMin, e.nextMark = true, s.Min, s.Min, s.Min+markMin
	e.cores.push(s)
	for i := range e.pieces {
		e.pieces[i].begin(&e.law, (low+high)/2)
	}
}

// present is the core now, °C: the median of its newest five readings.
func (e *Ensemble) present() float64 {
	var values [5]float64
	n := 0
	for i := max(0, e.cores.N-len(values)); i < e.cores.N; i++ {
		values[n] = e.cores.At[i].C
		n++
	}
	return median(values[:n])
}

// compare weighs each piece against the core and its slope of half an hour.
func (e *Ensemble) compare(now float64, core bool) {
	keep := math.Exp(-markMin / 60 / memoryH)
	for i := range e.misfit {
		e.misfit[i] *= keep
	}
	if core {
		y := e.present()
		slope, sloped := e.cores.slope()
		sloped = sloped && now-e.startMin >= 2*markMin && e.cores.N == len(e.cores.At)
		sd := slopeSd + 0.1*math.Abs(slope.PerHour)
		for i := range e.pieces {
			p := &e.pieces[i]
			off := (p.core() - y) / coreSdK
			square := off * off
			if sloped {
				off = ((p.core()-p.marks[0])*60/(2*markMin) - slope.PerHour) / sd
				square += off * off
			}
			e.misfit[i] -= square / 2
		}
	}
	for i := range e.pieces {
		e.pieces[i].mark()
	}
	e.weigh()
}

// weigh makes weights of the misfits, raised to the highest power up to 1 at which
// leastESS pieces still count. Without it the ensemble collapses on a few pieces and
// its interval on nothing.
func (e *Ensemble) weigh() {
	best := math.Inf(-1)
	for _, m := range e.misfit {
		best = max(best, m)
	}
	if e.raise(1, best) >= leastESS {
		return
	}
	low, high := 0.0, 1.0
	for range 30 {
		if mid := (low + high) / 2; e.raise(mid, best) >= leastESS {
			low = mid
		} else {
			high = mid
		}
	}
	e.raise(low, best)
}

// raise sets the weights for a power and returns the effective sample size.
func (e *Ensemble) raise(power, best float64) float64 {
	sum, squares := 0.0, 0.0
	for i, m := range e.misfit {
		w := math.Exp(power * (m - best))
		e.weight[i] = w
		sum, squares = sum+w, squares+w*w
	}
	for i := range e.weight {
		e.weight[i] /= sum
	}
	return sum * sum / squares
}

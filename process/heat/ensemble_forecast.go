package heat

import (
	"cmp"
	"math"
	"slices"
)

const (
	todayMin    = 24 * 60.0 // minutes after which a piece is not there today
	pointC      = 4.0       // K under the target, from where a straight line says best when
	noWeight    = 1e-6
	tooSoonMin  = 2 * markMin // before this nothing was compared twice
	intervalLow = 0.10
	intervalTop = 0.90
)

// An ETA is a time from now, or never: not today.
type ETA struct {
	Min   float64
	Never bool
}

// An Outlook is when a core will be at a target.
type Outlook struct {
	Point       ETA     // the best single figure
	Early, Late ETA     // 80 % interval
	NotToday    float64 // share that never gets there, or not in 24 hours, 0 to 1
	Straight    bool    // Point is by a straight line through the last half hour
	ChamberC    float64 // the chamber this is for, °C
}

// A score is what one piece says.
type score struct{ minutes, weight float64 }

// A question is what the pieces were asked: °C, and the minute from their start.
type question struct{ fromC, targetC, chamberC, now float64 }

// Outlook forecasts when the core will be at a target, °C, with the chamber as its
// last half hour's median. stalled says that it stalls now: a straight line is no
// forecast then. ok is false before the first half hour of the core.
//
// A piece says the time between the present temperature and the target, whenever it
// is or was at the first of them.
func (e *Ensemble) Outlook(targetC float64, stalled bool) (o Outlook, ok bool) {
	e.follow()
	chamber, ok := e.held()
	if !ok {
		return Outlook{}, false
	}
	return e.OutlookIn(targetC, chamber, stalled)
}

// OutlookIn is Outlook for a chamber of a temperature from now on, °C: what if it
// were set ten degrees hotter?
func (e *Ensemble) OutlookIn(targetC, chamberC float64, stalled bool) (o Outlook, ok bool) {
	e.follow()
	if !e.begun || e.lastMin-e.startMin < tooSoonMin || !finite(targetC) || !finite(chamberC) {
		return Outlook{}, false
	}
	present := e.present()
	o = Outlook{ChamberC: chamberC}
	if levelOf(present) >= levelOf(targetC) {
		return o, true
	}
	e.score(present, targetC, chamberC)
	o.Point, o.Early, o.Late = e.quantile(0.5), e.quantile(intervalLow), e.quantile(intervalTop)
	o.NotToday = e.later(math.MaxFloat64)
	if line, ok := e.line(targetC); ok && !stalled {
		o.Point, o.Straight = ETA{Min: line}, true
	}
	return o, true
}

// later is the weight of the pieces that take longer, of the last forecast.
func (e *Ensemble) later(minutes float64) float64 {
	sum, all := 0.0, 0.0
	for _, s := range e.scores {
		all += s.weight
		if s.minutes > minutes {
			sum += s.weight
		}
	}
	if all == 0 {
		return 0
	}
	return sum / all
}

// held is the chamber's median over the last heldMin.
func (e *Ensemble) held() (float64, bool) {
	if e.chambers.N == 0 {
		return 0, false
	}
	var values [71]float64
	n := 0
	for _, s := range e.chambers.since(min(e.chambers.last().Min, e.lastMin-heldMin)) {
		values[n] = s.C
		n++
	}
	return median(values[:n]), true
}

// score asks each piece that has weight, and sorts what they say. The same question
// in the same minute was answered: the scores are still those.
func (e *Ensemble) score(fromC, targetC, chamberC float64) {
	now := e.lastMin - e.startMin
	asked := question{fromC, targetC, chamberC, now}
	if asked == e.scored {
		return
	}
	e.scored, e.scores = asked, e.scores[:0]
	in := e.law.in(chamberC)
	from, to := levelOf(fromC), levelOf(targetC)
	for i, w := range e.weight {
		if w < noWeight {
			continue
		}
		ahead := e.pieces[i]
		e.scores = append(e.scores, score{ahead.takes(&e.law, &in, now, from, to), w})
	}
	slices.SortFunc(e.scores, byMinutes)
}

func byMinutes(a, b score) int { return cmp.Compare(a.minutes, b.minutes) }

// quantile is the weighted quantile of the last forecast.
func (e *Ensemble) quantile(q float64) ETA { return quantileOf(e.scores, q) }

// quantileOf is the weighted quantile of sorted scores.
func quantileOf(scores []score, q float64) ETA {
	all, sum := 0.0, 0.0
	for _, s := range scores {
		all += s.weight
	}
	for _, s := range scores {
		sum += s.weight
		if sum >= q*all {
			return ETA{finiteOr0(s.minutes), math.IsInf(s.minutes, 1)}
		}
	}
	return ETA{Never: true}
}

func finiteOr0(v float64) float64 {
	if math.IsInf(v, 0) {
		return 0
	}
	return v
}

// line is the time to the target on a straight line through the last half hour of
// the core, minutes. ok is false when more than pointC remain or it does not go there.
func (e *Ensemble) line(targetC float64) (minutes float64, ok bool) {
	slope, ok := e.cores.slope()
	left := targetC - e.present()
	if !ok || math.Abs(left) >= pointC || left*slope.PerHour <= 0 || e.cores.N < len(e.cores.At) {
		return 0, false
	}
	return left / slope.PerHour * 60, true
}

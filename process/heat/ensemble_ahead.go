package heat

import "math"

const (
	steadyC   = 0.05 // K in steadyMin that are no longer a rise
	steadyMin = 30.0
	coarseMin = 5.0 // longest step ahead
)

// takes is how long the piece takes between two levels, minutes, infinite for not
// today. It is moved on for that.
func (p *piece) takes(l *law, in *surrounding, now, from, to float64) float64 {
	if p.levelMax < to && p.never(l, in, to, todayMin/60) {
		return math.Inf(1)
	}
	step := min(coarseMin, p.longest())
	checkAt, checkLevel := now, levelOf(p.core())
	for at := now; p.levelMax < to; at += step {
		if at-now > todayMin {
			return math.Inf(1)
		}
		if at-checkAt >= steadyMin {
			level := levelOf(p.core())
			if math.Abs(level-checkLevel) < steadyC && p.still() || p.never(l, in, to, (todayMin+now-at)/60) {
				return math.Inf(1)
			}
			checkAt, checkLevel = at, level
		}
		p.advance(l, in, at, step)
	}
	start, _ := p.firstAt(from)
	end, _ := p.firstAt(to)
	if end-start > todayMin {
		return math.Inf(1)
	}
	return max(0, end-start)
}

// still reports that nothing will move a core that stands: the outside is as warm,
// and it dries no more.
func (p *piece) still() bool {
	return p.wet < 1.05*p.wetLast && math.Abs(p.tempC[cells-1]-p.core()) < 1
}

// never reports that the piece cannot come to a level in this air in so many hours: a
// surface at the level loses heat, as wet as it will be and as dry, and no cell is
// beyond it to warm it. The balance is linear in the wet part, so its ends are enough.
// The dry end is taken as if water left as fast as it does at the level, which is
// faster than before it. Beyond the table of dryness the loss of heat is taken too
// small: the careful side.
func (p *piece) never(l *law, in *surrounding, to, hours float64) bool {
	for _, t := range p.tempC {
		if levelOf(t) > to {
			return false
		}
	}
	tC := celsiusOf(to)
	dry, _ := in.over.at(min(hottestC, max(coolestC, tC)))
	water := in.factor * (in.pressure - dry)
	latent := latentAtZero - latentFall*tC
	gain := func(wet float64) float64 { return in.airC - tC - wet*latent*water }
	dried := *p
	dried.dry(l, hours, water)
	return gain(dried.wet) <= 0 && gain(p.wet0) <= 0
}

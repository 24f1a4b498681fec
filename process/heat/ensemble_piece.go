package heat

import "math"

// levels is how many whole degrees a piece notes its first passage of.
const levels = 131

// A piece is one cylinder of meat that might be the one in the smoker. Lengths are
// parts of its radius, from the middle out; cells have one width.
type piece struct {
	perHour       float64 // diffusivity over the radius squared, 1/h
	biot          float64 // radiation is in it
	wet0, wetLast float64 // wet part of the surface at first, and when dried out
	dryLoss       float64 // part of the mass lost at which it dries out, > 0

	tempC    [cells]float64
	surfaceC float64
	wet      float64
	lost     float64         // part of the mass
	marks    [2]float64      // core at the last marks, the older first
	passed   [levels]float32 // minutes from the start to each level
	reached  int             // levels passed
	levelMax float64         // highest level yet
	levelAt  float64         // and when, minutes from the start
}

func (p *piece) core() float64 { return p.tempC[0] }

func (p *piece) mark() { p.marks[0], p.marks[1] = p.marks[1], p.core() }

// begin sets the piece to one temperature.
func (p *piece) begin(l *law, coreC float64) {
	for i := range p.tempC {
		p.tempC[i] = coreC
	}
	p.surfaceC, p.lost = p.tempC[cells-1], 0
	p.wet = p.wetness(l)
	p.marks = [2]float64{p.core(), p.core()}
	p.reached, p.levelMax, p.levelAt = 0, levelOf(p.core()), 0
	p.pass(0, p.levelMax-1, 0, p.levelMax)
}

// advance lets minutes pass in a chamber, beginning at a minute from the start.
func (p *piece) advance(l *law, in *surrounding, at, minutes float64) {
	steps := math.Ceil(minutes / p.longest())
	dt := minutes / steps
	for i := 0.0; i < steps; i++ {
		before := levelOf(p.core())
		p.step(l, in, dt/60)
		p.pass(at+i*dt, before, at+(i+1)*dt, levelOf(p.core()))
	}
}

// longest is the longest stable step, minutes.
func (p *piece) longest() float64 { return 0.4 * 60 / (cells * cells * p.perHour) }

// step is one explicit step of conduction, hours, and of drying.
func (p *piece) step(l *law, in *surrounding, h float64) {
	var water float64
	p.surfaceC, water = p.surface(in)
	flow := 0.0 // through the inner face of a cell, outward face taken times its radius
	per := h * p.perHour * cells * cells
	for i := range cells - 1 {
		out := float64(i+1) * (p.tempC[i+1] - p.tempC[i])
		p.tempC[i] += per * (out - flow) / (float64(i) + 0.5)
		flow = out
	}
	out := 2 * cells * (p.surfaceC - p.tempC[cells-1])
	p.tempC[cells-1] += per * (out - flow) / (cells - 0.5)
	p.dry(l, h, water)
}

// dry lets water leave, hours long, at a flow over the coefficient of convection.
func (p *piece) dry(l *law, h, water float64) {
	p.lost = max(0, p.lost+2*p.biot*h*p.perHour*meatCapacity*p.wet*water)
	p.wet = p.wetness(l)
}

// wetness is the wet part of the surface: first a constant rate of drying, then a
// falling one.
func (p *piece) wetness(l *law) float64 {
	return p.wetLast + (p.wet0-p.wetLast)*l.falling.at(p.lost/p.dryLoss)
}

// meatCapacity is the heat capacity of meat, J/(kg K) (textbook, rounded).
const meatCapacity = 3500.0

// pass notes the levels first passed between two times.
func (p *piece) pass(at0, level0, at1, level1 float64) {
	if level1 <= p.levelMax && p.reached > 0 {
		return
	}
	for p.reached < levels && float64(p.reached) <= level1 {
		part := min(1, max(0, (float64(p.reached)-level0)/(level1-level0)))
		p.passed[p.reached] = float32(at0 + part*(at1-at0))
		p.reached++
	}
	p.levelMax, p.levelAt = level1, at1
}

// firstAt is when the piece first was at a level, minutes from its start. ok is
// false when it was not yet.
func (p *piece) firstAt(level float64) (minute float64, ok bool) {
	if level > p.levelMax {
		return 0, false
	}
	i := int(math.Floor(level))
	switch {
	case i < 0:
		return 0, true
	case i+1 < p.reached:
		a, b := float64(p.passed[i]), float64(p.passed[i+1])
		return a + (level-float64(i))*(b-a), true
	case i >= levels || i >= p.reached:
		return p.levelAt, true
	}
	a := float64(p.passed[i])
	if p.levelMax <= float64(i) {
		return a, true
	}
	return a + (level-float64(i))/(p.levelMax-float64(i))*(p.levelAt-a), true
}

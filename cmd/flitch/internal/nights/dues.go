package nights

import (
	"math"
	"slices"
	"time"

	"flitch/process"
)

// dues are what has to be told although nothing is broken, each at a time that the world
// knows. early is for how long before it may be told: noise, and the probe's error.
func dues() []kind {
	return []kind{
		// This and the use-by are told at nine, of the day or the one before.
		{name: dueReady, rings: []string{"K3"}, early: 16 * time.Hour, within: 10 * time.Hour},
		{name: dueNear, rings: []string{"H7"}, early: 40 * time.Minute, within: 10 * time.Minute}, // it may rise by 0.05 K a minute there
		{name: dueHeld, rings: []string{"H8"}, early: 5 * time.Minute, within: 15 * time.Minute},
		{name: dueLid, rings: []string{"H15"}, within: 10 * time.Minute},
		{name: dueUse, rings: []string{"L5"}, early: 16 * time.Hour, within: 10 * time.Hour},
	}
}

// Names of the dues.
const (
	dueReady = "cure ready tomorrow by the rule"
	dueNear  = "slowest core 2.8 K under its target"
	dueHeld  = "slowest core at its target"
	dueLid   = "lid opened in a cook"
	dueUse   = "three days to the use-by"
)

// A debt is a due that came up.
type debt struct {
	Fault
	from time.Time // a fault between this and the time it is told by disturbs it
}

// owe notes that something has to be told now.
func (y *year) owe(name string, from time.Time) {
	i := slices.IndexFunc(dues(), func(k kind) bool { return k.name == name })
	y.debts = append(y.debts, debt{Fault{Kind: name, At: y.Now, kind: dues()[i]}, from})
}

// undisturbed are the dues with which no fault had to do.
func (y *year) undisturbed() []Fault {
	all := []Fault{}
	for _, d := range y.debts {
		told := d.At.Add(d.kind.within)
		if told.After(y.Now) || slices.ContainsFunc(y.faults, func(f Fault) bool { return f.At.Before(told) && f.Mended.Add(time.Hour).After(d.from) }) {
			continue
		}
		all = append(all, d.Fault)
	}
	return all
}

// A course is the cores of a cook as they really are, a number a minute.
type course struct {
	batch string
	began time.Time
	cores [][2]float64
	owed  map[string]bool
}

const (
	nearK   = 2.78 // 5 °F
	lidFall = 0.5  // K that a core falls meanwhile: that was the lid, and no stall
)

// follow writes down what the meat does in the cook, and what has to be told of it.
func (y *year) follow() {
	b := y.current()
	if b == nil || b.Stage().Name != process.StageCook {
		return
	}
	c := &y.course
	if c.batch != b.ID {
		*c = course{batch: b.ID, began: y.Now, owed: map[string]bool{}}
	}
	c.cores = append(c.cores, [2]float64{y.shop.slabs[0].Core(), y.shop.slabs[1].Core()})
	slowest := c.slowest()
	target := b.Stage().CoreC
	y.oweOnce(dueNear, slowest >= target-nearK)
	y.oweOnce(dueHeld, slowest >= target)
}

func (y *year) oweOnce(name string, is bool) {
	if c := &y.course; is && !c.owed[name] {
		c.owed[name] = true
		y.owe(name, c.began.Add(-time.Hour))
	}
}

func (c *course) slowest() float64 {
	now := c.cores[len(c.cores)-1]
	return min(now[0], now[1])
}

// rise is by how much the core that is the slowest now is up in the last minutes, or
// since the cook began, K.
func (c *course) rise(minutes int) float64 {
	last := c.last(minutes)
	return last[len(last)-1] - last[0]
}

// fell is by how much it was under an earlier one at the most in them, K.
func (c *course) fell(minutes int) (most float64) {
	top := math.Inf(-1)
	for _, core := range c.last(minutes) {
		top = max(top, core)
		most = max(most, top-core)
	}
	return most
}

func (c *course) last(minutes int) []float64 {
	n, slowest := len(c.cores), 0
	if now := c.cores[n-1]; now[1] < now[0] {
		slowest = 1
	}
	last := make([]float64, 0, minutes+1)
	for _, cores := range c.cores[max(0, n-1-minutes):] {
		last = append(last, cores[slowest])
	}
	return last
}

// stalls reports whether the meat has really not risen as H5 has it, with so much for
// noise and the minute: for three quarters of an hour, in a chamber that has heat to
// give, and not because it fell.
func (y *year) stalls() bool {
	const asked, noise = 45, 0.25
	c := &y.course
	return len(c.cores) > asked && c.rise(asked) < 1+noise && c.fell(asked) < lidFall && y.shop.kettle.Chamber() > c.slowest()
}

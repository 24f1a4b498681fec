package process

import "time"

// PowerLevelsC are the temperatures whose minutes a power card counts: 40, 41, 45 and
// 50 °F (the trade's card; 40 °F is the line of FDA and USDA for a fridge without power).
var PowerLevelsC = [...]float64{(40 - 32) / 1.8, 5, (45 - 32) / 1.8, 10}

// A PowerCard is what is known of a cold place that lost its cold. It holds no verdict.
type PowerCard struct {
	Place string
	From  time.Time // what is counted begins here

	Mains bool   // a probe tells of the mains
	Off   Moment // zero: not seen off
	On    Moment // zero: not back

	By    Placement // product, or air where no slow sensor is; empty: neither
	Then  *Sample   // nil: not measured
	Now   *Sample
	Peak  *Sample
	Above []Above // PowerLevelsC

	Door   bool // a probe tells of the door
	Opened int  // how often
	Gap    *Gap // the longest of the temperature; nil: none
}

// ColdReadings are those of one cold place from some time before an alarm on.
type ColdReadings struct {
	Product, Air, Mains, Door Readings
}

// PowerCard puts together what is known of a cold place since an alarm's condition began,
// or since the mains went off before it, until to. An alarm that is about the mains counts
// from when they went off, and may be told long after they are back: since is then how far
// to look.
func (p *Place) PowerCard(since, to time.Time, aboutMains bool, r ColdReadings) PowerCard {
	c := PowerCard{Place: p.Name, From: since, Mains: len(r.Mains.Samples) > 0, Door: len(r.Door.Samples) > 0}
	c.Off, c.On = r.Mains.lastOff(since, to)
	if first := c.Off.start(); !first.IsZero() && (aboutMains || first.Before(since)) {
		c.From = first
	}
	cold := r.Product
	switch {
	case len(r.Product.Samples) > 0:
		c.By = Product
	case len(r.Air.Samples) > 0:
		c.By, cold = Air, r.Air
	}
	cold = cold.within(c.From, to)
	if c.By != "" && len(cold.Samples) > 0 {
		c.Peak, c.Now = cold.highest(), cold.last()
		if first := cold.Samples[0]; !first.At.After(c.From) {
			c.Then = &cold.Samples[0]
		}
		for _, level := range PowerLevelsC {
			c.Above = append(c.Above, cold.above(c.From, level))
		}
		for _, g := range cold.gaps(to) {
			if c.Gap == nil || g.To.Sub(g.From) > c.Gap.To.Sub(c.Gap.From) {
				c.Gap = &g
			}
		}
	}
	c.Opened = r.Door.opened(c.From, to)
	return c
}

// start is the earliest it can have been, or the first that is known.
func (m Moment) start() time.Time {
	if m.Earliest.IsZero() {
		return m.Latest
	}
	return m.Earliest
}

// lastOff is the newest time the mains were off that reached since, and when they were
// back. A switch that was never seen on has no earliest.
func (r Readings) lastOff(since, to time.Time) (off, on Moment) {
	isOff := false
	for i, s := range r.Samples {
		if s.At.After(to) {
			break
		}
		before := Sample{}
		if i > 0 {
			before = r.Samples[i-1]
		}
		switch {
		case s.Value <= 0 && !isOff:
			off, on, isOff = r.between(before, s), Moment{}, true
		case s.Value > 0 && isOff:
			on, isOff = r.between(before, s), false
		}
	}
	if !on.Latest.IsZero() && on.Latest.Before(since) {
		return Moment{}, Moment{}
	}
	return off, on
}

// opened is how often a door went from shut to open.
func (r Readings) opened(from, to time.Time) (n int) {
	for i, s := range r.Samples {
		wasOpen := i > 0 && r.Samples[i-1].Value >= 0.5
		if s.Value >= 0.5 && !wasOpen && !s.At.Before(from) && !s.At.After(to) {
			n++
		}
	}
	return n
}

// Levels are the temperatures that are counted, °C.
func (PowerCard) Levels() []float64 { return PowerLevelsC[:] }

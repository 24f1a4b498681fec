package process

import (
	"math"
	"time"
)

// The lines of the stall card (rules of the trade, with the numbers of its alarm table; near zero is what
// raises H5: 2 °F in 45 min; the rest proposal).
const (
	StallGapK   = 25 / 1.8         // K between chamber and core, under which no heat is left to give
	StallRateK  = 2 / 1.8 / 0.75   // K/h, under which the rate is near zero
	StallFromC  = (110 - 32) / 1.8 // °C, and StallToC: where evaporation holds a core
	StallToC    = (145 - 32) / 1.8
	StallApartK = 5.0              // K between chamber probe and hand probe (proposal)
	handHolds   = time.Hour        // a hand reading speaks for the grate so long (proposal)
	handBeside  = 10 * time.Minute // a reading of the chamber so near is of the same time (proposal)
)

// A StallRule is what a stalled core points to.
type StallRule string

// What a stall card can come to.
const (
	StallNoHeat      StallRule = "no heat left"      // it is no stall: the chamber has nothing to give
	StallEvaporation StallRule = "evaporation"       // the gap is large, the rate near zero
	StallChamber     StallRule = "chamber disagrees" // with what was read by hand at the grate
	StallOther       StallRule = "no rule fits"
	StallUnknown     StallRule = "not measured" // core, chamber or rate
)

// A StallCard is what is known of a core that does not rise. Nil is not measured.
type StallCard struct {
	Piece   string
	Core    *Sample
	Chamber *Sample
	GapK    *float64 // chamber less core, K
	RateK   *float64 // of the core, K/h

	ComeUp *Clock   // of the slowest core; nil: the plan asks for none
	LeftH  *float64 // h until the limit of the come-up clock; negative when it is passed

	Hand   *HandEntry // newest of the chamber in the last hour; nil: none
	ApartK *float64   // chamber probe less hand reading at that time, K

	Rules []StallRule
}

// StallCard puts together what to know about a core that does not rise.
func (b *Batch) StallCard(now time.Time) StallCard {
	var c StallCard
	core, chamber := b.SlowestCore(), b.TrackOf(Chamber)
	if core != nil && !core.Old(now) && !core.Doubted() {
		c.Piece, c.Core = core.Probe.Piece, &core.Last
		if rate, ok := core.RatePerHour(); ok {
			c.RateK = &rate
		}
	}
	if chamber != nil && !chamber.Old(now) && !chamber.Doubted() {
		c.Chamber = &chamber.Last
	}
	if c.Core != nil && c.Chamber != nil {
		gap := c.Chamber.Value - c.Core.Value
		c.GapK = &gap
	}
	if clock, asked := b.comeUpClock(); asked {
		left := clock.Limit - clock.Sum
		c.ComeUp, c.LeftH = &clock, &left
	}
	b.byHand(&c, chamber, now)
	c.judge()
	return c
}

// byHand puts a hand reading of the chamber beside what its probe read then.
func (b *Batch) byHand(c *StallCard, chamber *Track, now time.Time) {
	for i := range b.Hand {
		h := &b.Hand[i]
		if h.Placement == Chamber && !h.At.After(now) && now.Sub(h.At) <= handHolds && (c.Hand == nil || !h.At.Before(c.Hand.At)) {
			c.Hand = h
		}
	}
	if c.Hand == nil || chamber == nil {
		return
	}
	nearest := handBeside + 1
	for _, s := range append([]Sample{chamber.Last}, chamber.Recent.Samples...) {
		if off := s.At.Sub(c.Hand.At).Abs(); off < nearest {
			apart := s.Value - c.Hand.Value
			nearest, c.ApartK = off, &apart
		}
	}
}

// judge says which rules fit. A chamber number that is wrong makes the gap wrong too.
func (c *StallCard) judge() {
	if c.ApartK != nil && math.Abs(*c.ApartK) > StallApartK {
		c.Rules = append(c.Rules, StallChamber)
	}
	switch {
	case c.GapK == nil:
		c.Rules = append(c.Rules, StallUnknown)
	case *c.GapK < StallGapK:
		c.Rules = append(c.Rules, StallNoHeat)
	case c.RateK == nil:
		c.Rules = append(c.Rules, StallUnknown)
	case math.Abs(*c.RateK) < StallRateK && c.Core.Value >= StallFromC && c.Core.Value <= StallToC:
		c.Rules = append(c.Rules, StallEvaporation)
	default:
		c.Rules = append(c.Rules, StallOther)
	}
}

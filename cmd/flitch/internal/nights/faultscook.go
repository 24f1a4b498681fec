package nights

import (
	"time"

	"flitch/ingest/sim"
)

// fires that go out, run away or are too weak.
func fires() []kind {
	return []kind{
		{name: "fire out", when: inCook, after: 2 * time.Hour, lasts: 90 * time.Minute,
			breaks: func(y *year) { y.shop.kettle.Quench() },
			mends:  func(y *year) { y.shop.kettle.Light() },
			rings:  []string{"H3", "H4"}, within: 55 * time.Minute, also: []also{{"H3", 55 * time.Minute}, {"H4", 90 * time.Minute}}},
		// From before the fire is lit: the house never gets to its set point, so that no
		// line rings for a fire that goes out. Half an hour to the load, as much to 10 °C
		// in the core, and the four hours.
		{name: "fire too weak", when: inCook, after: -40 * time.Minute, lasts: 6 * time.Hour,
			breaks: func(y *year) { y.shop.kettle.Power = 38 },
			mends:  func(y *year) { y.shop.kettle.Power = cookPower },
			rings:  []string{"H6"}, within: 5*time.Hour + 20*time.Minute},
		{name: "damper stuck open", when: inCook, after: 35 * time.Minute, lasts: 40 * time.Minute, // before the lid is
			breaks: func(y *year) { y.shop.kettle.Set(cookC + 23) },
			mends:  func(y *year) { y.shop.kettle.Set(cookC) },
			rings:  []string{"H2"}, within: 30 * time.Minute},
		{name: "flames", when: inCook, after: 2 * time.Hour, lasts: 20 * time.Minute,
			breaks: func(y *year) { y.shop.kettle.Set(400); y.shop.kettle.Power = 900 },
			mends:  func(y *year) { y.shop.kettle.Set(cookC); y.shop.kettle.Power = cookPower },
			rings:  []string{"H1"}, within: 25 * time.Minute},
	}
}

// cores, and the probes in them and beside them. A stuck probe is told only while the
// chamber is hotter: an open lid hides it.
func cores() []kind {
	return []kind{
		{name: "probe pulled", when: inCook, after: 2*time.Hour + 20*time.Minute, lasts: time.Hour,
			breaks: func(y *year) { y.shop.out = true },
			mends:  func(y *year) { y.shop.out = false },
			rings:  []string{"H10", "H11"}, within: 10 * time.Minute, also: []also{{"H11", 10 * time.Minute}}},
		// Before the lid is opened: a core follows that.
		{name: "probe slips out slowly", when: inCook, after: 45 * time.Minute, lasts: 40 * time.Minute,
			breaks: func(y *year) { slip(y, 10) },
			mends:  func(y *year) { y.shop.probes["core-a"].Off = 0 },
			rings:  []string{"H10"}, within: 20 * time.Minute},
		{name: "belly stays wet", when: inCook, after: 30 * time.Minute, lasts: 4 * time.Hour,
			breaks: func(y *year) { y.skin(soaked) },
			mends:  func(y *year) { y.skin(belly) },
			rings:  []string{"H5"}, within: 3*time.Hour + 30*time.Minute},
		{name: "core probe stuck", when: inCook, after: 2 * time.Hour, lasts: 2 * time.Hour,
			breaks: func(y *year) { y.shop.standStill("core-a") },
			mends:  func(y *year) { delete(y.shop.says, "core-a") },
			rings:  []string{"B3"}, within: 45 * time.Minute},
		{name: "core probe silent", when: inCook, after: 100 * time.Minute, lasts: time.Hour, breaks: silence("core-a"), mends: speak,
			rings: []string{"B1"}, within: 10 * time.Minute},
		{name: "core probe says goodbye", when: inCook, after: 100 * time.Minute, lasts: time.Hour, breaks: gone("core-a"), mends: speak,
			rings: []string{"B1g"}, within: 2 * time.Minute},
		{name: "chamber probe silent", when: inCook, after: 100 * time.Minute, lasts: time.Hour, breaks: silence("kettle-chamber"), mends: speak,
			rings: []string{"B1"}, within: 10 * time.Minute},
		{name: "slab in the cold corner", when: inCook, after: 5 * time.Minute, lasts: 4 * time.Hour,
			breaks: func(y *year) { y.shop.slabs[0].Move(corner{y.shop.kettle}, sim.Racked()) },
			mends:  func(y *year) { y.shop.slabs[0].Move(y.shop.kettle, sim.Racked()) },
			rings:  []string{"H12"}, within: 2 * time.Hour},
	}
}

// soaked is a surface that keeps wet, as in a wet house: the core stands while it dries.
var soaked = sim.Skin{Wet: 0.3}

func (y *year) skin(of sim.Skin) {
	for _, slab := range y.shop.slabs {
		slab.Skin = of
	}
}

// A corner of the smoker that the draught does not reach.
type corner struct{ *sim.Smoker }

// Surroundings of a slab there.
func (c corner) Surroundings() sim.Surroundings {
	around := c.Smoker.Surroundings()
	around.AirC -= 45
	return around
}

// slip lets a probe read less by 2 K each minute, for so many.
func slip(y *year, minutes int) {
	for m := range minutes {
		y.later(time.Duration(m)*time.Minute, func(y *year) { y.shop.probes["core-a"].Off -= 2 })
	}
}

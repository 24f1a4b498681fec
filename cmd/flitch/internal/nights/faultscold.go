package nights

import "time"

// fridges that do not keep cold, or keep too cold. A cool morning or a hot day makes
// hours of difference.
func fridges() []kind {
	return []kind{
		{name: "compressor dead", lasts: 8 * time.Hour,
			breaks: func(y *year) { y.shop.alder.Mains(false) },
			mends:  func(y *year) { y.shop.alder.Mains(true) },
			rings:  []string{"C1", "C2", "C7"}, within: 5 * time.Hour, also: []also{{"C7", 4 * time.Hour}, {"C1", 5 * time.Hour}, {"C2", 6 * time.Hour}}},
		{name: "compressor never rests", lasts: 9 * time.Hour, // on a cool morning it holds the air at 6 °C
			breaks: func(y *year) { y.shop.alder.Cooling = weak },
			mends:  func(y *year) { y.shop.alder.Cooling = cooling },
			rings:  []string{"C1", "C2", "C7r"}, within: 6 * time.Hour, also: []also{{"C7r", 8 * time.Hour}}},
		{name: "dial turned too warm", lasts: 10 * time.Hour,
			breaks: func(y *year) { y.shop.alder.Set(6.5) },
			mends:  func(y *year) { y.shop.alder.Set(alderC) },
			rings:  []string{"C1", "C2"}, within: 6 * time.Hour, also: []also{{"C1", 6 * time.Hour}, {"C2", 7 * time.Hour}}},
		{name: "dial turned too cold", lasts: 14 * time.Hour,
			breaks: func(y *year) { y.shop.alder.Set(-3.5) },
			mends:  func(y *year) { y.shop.alder.Set(alderC) },
			rings:  []string{"C4", "C5"}, within: 10 * time.Hour, also: []also{{"C5", 10 * time.Hour}, {"C4", 12 * time.Hour}}},
		{name: "freezer dead", lasts: 7 * time.Hour, // one to two hours to 15 °F, and two over it
			breaks: func(y *year) { y.shop.cedar.Mains(false) },
			mends:  func(y *year) { y.shop.cedar.Mains(true) },
			rings:  []string{"C8"}, within: 5 * time.Hour},
	}
}

// doors of the cure fridge, with the switch that tells and without.
func doors() []kind {
	return []kind{
		{name: "door ajar", lasts: 5 * time.Hour,
			breaks: func(y *year) { y.shop.alder.Door(0.04); y.shop.door = 1 },
			mends:  func(y *year) { y.shop.alder.Door(0); y.shop.door = 0 },
			rings:  []string{"C6"}, within: 10*time.Minute + longGap},
		{name: ajarUnseen, lasts: 8 * time.Hour,
			breaks: func(y *year) { y.shop.alder.Door(0.05) },
			mends:  func(y *year) { y.shop.alder.Door(0) },
			rings:  []string{"C1", "C2"}, within: 5 * time.Hour},
	}
}

// ajarUnseen is the fault that the doors of the calendar must not mend.
const ajarUnseen = "door ajar, no switch"

// power that goes. Late: it goes and is back while the wifi is away, and the board tells
// of it afterwards.
func power() []kind {
	off := func(y *year) { y.shop.alder.Mains(false); y.shop.mains = 0 }
	on := func(y *year) { y.shop.alder.Mains(true); y.shop.mains = 1 }
	return []kind{
		{name: "mains off", lasts: 5 * time.Hour, breaks: off, mends: on, rings: []string{"B5"}, within: 10*time.Minute + longGap},
		{name: "mains off, learned late", lasts: 26 * time.Minute, line: true,
			breaks: func(y *year) {
				y.shop.hold(probeNames[:5])
				off(y)
				y.later(14*time.Minute, on)
			},
			mends: func(y *year) {
				y.shop.back(y.Now)
				y.later(time.Hour, func(y *year) { y.answer("B5l") }) // it stands until somebody has
			},
			rings: []string{"B5l"}, within: 30 * time.Minute},
	}
}

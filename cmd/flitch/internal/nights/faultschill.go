package nights

import (
	"time"

	"flitch/ingest/sim"
)

// chills that are not begun, or go wrong. A slab that lies in the room is told of when
// its planned hour of rest is over.
func chills() []kind {
	return []kind{
		{name: "nobody takes it off", when: atChill, lasts: 2 * time.Hour,
			breaks: func(y *year) { y.away = true },
			mends:  func(y *year) { y.away = false; chill(y) },
			rings:  []string{"H9"}, within: 100 * time.Minute},
		{name: "nobody starts the chill", when: atChill, lasts: 8 * time.Hour,
			breaks: func(y *year) { y.away = true; intoTheRoom(y) },
			mends:  func(y *year) { y.away = false; chill(y) },
			rings:  []string{"L1"}, within: 80 * time.Minute, also: []also{{"L2", 7*time.Hour + 30*time.Minute}}}, // an hour into the second leg
		{name: "wrapped up and forgotten", when: atChill, lasts: 10*time.Hour + 30*time.Minute, // so warm that its first leg is missed, and really
			breaks: func(y *year) {
				y.away = true
				intoTheRoom(y)
				for _, slab := range y.shop.slabs {
					slab.Move(y.shop.larder, sim.Cover{Resistance: 0.4, Tight: true})
				}
			},
			mends: func(y *year) { y.away = false; chill(y) },
			rings: []string{"L1", "L2"}, within: 3 * time.Hour, also: []also{{"L3", 10 * time.Hour}}},
		{name: "chill fridge dead", when: atChill, lasts: 5 * time.Hour,
			breaks: func(y *year) { y.shop.birch.Mains(false); chill(y) },
			mends:  func(y *year) { y.shop.birch.Mains(true) },
			rings:  []string{"L2"}, within: 5 * time.Hour},
		{name: "chill fridge set too warm", when: atChill, lasts: 5 * time.Hour, // it has no slow sensor: its air has to tell
			breaks: func(y *year) { y.shop.birch.Set(10); chill(y) },
			mends:  func(y *year) { y.shop.birch.Set(birchC) },
			rings:  []string{"C3"}, within: 3 * time.Hour},
		{name: "slab left behind", when: atChill, lasts: 2 * time.Hour,
			breaks: func(y *year) { intoTheCold(y, y.shop.slabs[1:]) },
			mends: func(y *year) {
				y.shop.slabs[0].Move(y.shop.birch, sim.Racked())
				count(y, len(y.shop.slabs))
			},
			rings: []string{"L4"}, within: 2 * time.Minute},
	}
}

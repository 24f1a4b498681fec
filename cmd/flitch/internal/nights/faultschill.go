package nights

import (
	"time"

	"flitch/ingest/sim"
)

// chills that are not begun, or go wrong. A slab that lies in the room falls as a chill
// does at first: it is told of when it has come near the room, or when the forecast of
// the second leg says never.
func chills() []kind {
	return []kind{
		{name: "nobody takes it off", when: atChill, lasts: 2 * time.Hour,
			breaks: func(y *year) { y.away = true },
			mends:  func(y *year) { y.away = false; chill(y) },
			rings:  []string{"H9"}, within: 100 * time.Minute},
		{name: "nobody starts the chill", when: atChill, lasts: 6 * time.Hour,
			breaks: func(y *year) { y.away = true; intoTheRoom(y) },
			mends:  func(y *year) { y.away = false; chill(y) },
			rings:  []string{"L1", "L2"}, within: 6 * time.Hour},
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

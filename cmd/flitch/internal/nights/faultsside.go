package nights

import "time"

// counters are what goes wrong beside the bellies.
func counters() []kind {
	const jerkyAt = 13*time.Hour + 12*time.Minute // a quarter of an hour into it, and less than an hour with the time it takes
	smoke, jerky := []time.Weekday{time.Monday, time.Thursday}, []time.Weekday{time.Tuesday, time.Friday}
	return []kind{
		{name: "cold smoke too warm", days: smoke, after: 19 * time.Hour, lasts: 2 * time.Hour,
			breaks: func(y *year) { y.shop.aunt.Set(40) },
			mends:  func(y *year) { y.shop.aunt.Set(smokeC) },
			rings:  []string{"H14"}, within: 50 * time.Minute},
		{name: "steam runs out", days: jerky, after: jerkyAt, lasts: time.Hour,
			breaks: func(y *year) { y.shop.steam = 46 },
			mends:  func(y *year) { y.shop.steam = steamC },
			rings:  []string{"H13"}, within: 15 * time.Minute},
		{name: "sock of the wet bulb dry", days: jerky, after: jerkyAt, lasts: time.Hour,
			breaks: func(y *year) { y.shop.drySock = true },
			mends:  func(y *year) { y.shop.drySock = false },
			rings:  []string{"H13"}, within: 15 * time.Minute},
		{name: "loft too damp", lasts: 6 * time.Hour,
			breaks: func(y *year) { y.shop.damp = 17 },
			mends:  func(y *year) { y.shop.damp = 0 },
			rings:  []string{"C9"}, within: 80 * time.Minute},
		{name: "loft too dry", lasts: 6 * time.Hour,
			breaks: func(y *year) { y.shop.damp = -17 },
			mends:  func(y *year) { y.shop.damp = 0 },
			rings:  []string{"C9"}, within: 80 * time.Minute},
	}
}

package nights

import "time"

// cures that go wrong by hand.
func cures() []kind {
	return []kind{
		// On two evenings. Two days without a turn are over at last on the second at half
		// past eleven, when the batch began at that time.
		{name: "turn left out", after: 17*time.Hour + 45*time.Minute, lasts: 36 * time.Hour,
			days:   []time.Weekday{time.Sunday, time.Monday, time.Thursday},
			breaks: func(y *year) { y.forgetful = true },
			mends:  func(y *year) { y.forgetful = false; turn(y) },
			rings:  []string{"K1"}, within: 7 * time.Hour, also: []also{{"K2", 30 * time.Hour}}},
		{name: "dose with a slipped point", when: atDose, lasts: 9 * time.Hour,
			breaks: func(y *year) { y.dose("", portion("A", 10*doseA), portion("B", doseB)) },
			mends:  func(y *year) { y.dose("the point had slipped", portion("A", doseA)) },
			rings:  []string{"K4"}, within: 2 * time.Minute},
		{name: "slab without a dose", when: atDose, lasts: 9 * time.Hour,
			breaks: func(y *year) { y.dose("", portion("A", doseA)) },
			mends:  func(y *year) { y.dose("", portion("B", doseB)) },
			rings:  []string{"K4"}, within: 33 * time.Minute},
	}
}

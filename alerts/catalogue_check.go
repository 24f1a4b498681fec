package alerts

import "time"

// Probes that are checked too seldom, or were found wrong.
func checks() []Entry {
	return []Entry{{
		// Days past the day of the check; 10000: it failed one.
		ID: "B9", Title: "Check this probe", Measure: "days past the check", Unit: "d",
		Triggers:    []Trigger{{Limit: 0, Level: Tell}},
		Clear:       Clear{Limit: -0.01},
		Says:        "its check was due {was}",
		Never:       10_000,
		SaysNever:   "it failed its check and is out of use",
		Action:      "Ice bath: crushed ice and water, stirred, two minutes; log what it reads. One that fails is out of use until it passes; review the batches it measured.",
		Repeat:      24 * time.Hour,
		ReAlarm:     7 * 24 * time.Hour,
		FalseAlarms: "too little ice, the tip against the ice or the glass; checked but not logged",
		Source: "within 2 °F in ice, 30 to 34 °F: thermometer procedure of a small-plant guide (UW, 2012, read in a copy); " +
			"interval: the configuration's, else 30 days; repeats: proposal",
	}}
}

package alerts

import "time"

// Sensors that will soon say nothing. Both measures come once a day, at a civil hour.
func vitals() []Entry {
	return []Entry{
		{
			// Steps over the limit: a point of percent, 0.01 V or 1 dB each.
			ID: "B4", Title: "Battery low", Measure: "battery over its limit",
			Triggers:    []Trigger{{Below: true, Limit: 0, Level: Tell}},
			Clear:       Clear{Limit: 5},
			Says:        "at or under its limit in the middle of the last day",
			Action:      "Change the battery at the next turn; a cold one dies without a further word.",
			Repeat:      24 * time.Hour,
			ReAlarm:     7 * 24 * time.Hour,
			HidesBehind: []string{"B2"},
			FalseAlarms: "cold lowers the voltage; a rechargeable cell that a sensor takes for another",
			Source:      proposal,
		},
		{
			ID: "B4s", Title: "Signal poor", Measure: "signal over its limit",
			Triggers:    []Trigger{{Below: true, Limit: 0, Level: Tell}},
			Clear:       Clear{Limit: 5},
			Says:        "at or under its limit in the middle of the last day",
			Action:      "Move the sensor or the receiver a hand's breadth, or lead the aerial out by the seal of the door.",
			Repeat:      24 * time.Hour,
			ReAlarm:     7 * 24 * time.Hour,
			HidesBehind: []string{"B2"},
			FalseAlarms: "something of metal put in front of it for a day",
			Source:      proposal,
		},
	}
}

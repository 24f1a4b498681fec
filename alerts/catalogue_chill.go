package alerts

import (
	"slices"
	"time"
)

func chill() []Entry {
	return slices.Concat(chillLegs(), afterChill())
}

// Getting cold in time.
func chillLegs() []Entry {
	return []Entry{
		{
			ID: "L1", Title: "Not chilling yet", Measure: "cooked and not chilling", Unit: "min",
			Triggers:    []Trigger{{Limit: 30, Level: Ring}},
			Clear:       Clear{Limit: 0, For: 15 * time.Minute},
			Says:        "out of the heat for {lasted} and the core does not fall",
			Elapsed:     true,
			Action:      "Into the cold now.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			HidesBehind: []string{"L2", "L3"},
			FalseAlarms: "a rest that the plan gives a time for is not asked",
			Source:      proposal,
		},
		{
			ID: "L2", Title: "Chill will be late", Measure: "chill forecast late", Unit: "min",
			// Two forecasts 10 min apart: one alone may be a probe just pulled.
			Triggers:    []Trigger{{Limit: 0, For: 10 * time.Minute, Level: Ring}},
			Clear:       Clear{Limit: -5, For: 10 * time.Minute},
			Says:        "forecast is {value} past the time allowed",
			Worst:       "{value} late",
			Never:       1440,
			SaysNever:   "in this air it will not get there at all",
			Action:      "Ice bath, spread the slabs, freezer, fan: there is still time.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			HidesBehind: []string{"L3"},
			FalseAlarms: "a probe that was pulled: it reads air",
			Source:      proposal,
		},
		{
			ID: "L3", Title: "Chill took too long", Measure: "chill leg over its limit", Unit: "min",
			// The limit itself is still met; 0.1 min is the first value past it.
			Triggers:    []Trigger{{Limit: 0.1, Level: Ring}},
			Clear:       Clear{Never: true},
			TellAtNight: true,
			Says:        "{value} over the time allowed",
			Worst:       "{value} over",
			Action:      "Hold the batch and tag it. Write down the numbers. Evaluation or discard is a person's decision.",
			Repeat:      time.Hour,
			FalseAlarms: "a probe that was pulled or lies against warm metal",
			Source:      "limit: the plan's; delays: proposal",
		},
	}
}

// Counted and kept.
func afterChill() []Entry {
	return []Entry{
		{
			ID: "L4", Title: "A piece is missing", Measure: "pieces missing", Unit: "",
			Triggers:    []Trigger{{Limit: 1, Level: Tell}},
			Clear:       Clear{Limit: 0},
			Says:        "pieces counted: {value} fewer than went in",
			Action:      "Look in the smoker, the oven, the second fridge.",
			Repeat:      2 * time.Hour,
			ReAlarm:     4 * time.Hour,
			FalseAlarms: "a slice taken to taste counted as a piece",
			Source:      proposal,
		},
		{
			ID: "L5", Title: "Use it soon", Measure: "keeping time left", Unit: "d", Prompt: true,
			// Looked at once a day, at nine: 15 h more, so that it is told on the third day
			// before, whatever the hour it was put away.
			Hour: morning,
			Triggers: []Trigger{
				{Below: true, Limit: 3.625, Level: Tell},
				{Below: true, Limit: 0, Level: Tell, Says: "its keeping time ended {day}", Action: "Past its day: freeze or throw away what is left, and close the batch."},
			},
			Clear:       Clear{Never: true},
			Says:        "to be used {day} at the latest, {value} left",
			Action:      "Eat, sell or freeze it in three days.",
			FalseAlarms: "none known",
			Source:      "days: the plan's; days before, and nine o'clock: proposal",
		},
	}
}

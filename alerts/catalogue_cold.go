package alerts

import (
	"slices"
	"time"
)

func coldSide() []Entry {
	return slices.Concat(warmFridge(), coldFridge(), doorAndMachine(), otherCold())
}

// A fridge that is too warm.
func warmFridge() []Entry {
	return []Entry{
		{
			ID: "C1", Title: "Fridge a little warm", Measure: "product temperature", Unit: "°C",
			Triggers:    []Trigger{{Limit: celsius(40), For: 30 * time.Minute, Level: Tell}},
			Clear:       Clear{Limit: celsius(39), For: 15 * time.Minute},
			Says:        "product sensor {value}, limit {limit}",
			Action:      "Check the door and the setting; feel the bags.",
			Repeat:      2 * time.Hour,
			ReAlarm:     4 * time.Hour,
			HidesBehind: []string{"C2"},
			FalseAlarms: "a warm load just put in: shelve it for 3 h as \"loading\"",
			Source:      tradeLimit,
		},
		{
			ID: "C2", Title: "Fridge too warm", Measure: "product temperature, in use", Unit: "°C",
			Triggers: []Trigger{
				{Limit: 5, For: 2 * time.Hour, Sum: 2 * time.Hour, Window: 24 * time.Hour, Level: Ring},
				{Limit: 7.2, For: 20 * time.Minute, Level: Ring},
			},
			Clear:       Clear{Limit: celsius(40), For: 30 * time.Minute},
			Says:        "product sensor {value} with a batch inside, limit {limit}",
			Action:      "Move the bags to another fridge or an ice chest; write down where. Do not taste. Hold the batch.",
			Repeat:      15 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "the sensor bottle left out of the fridge while it was cleaned",
			Source:      summedIdea,
		},
		{
			ID: "C3", Title: "Fridge air too warm", Measure: "product, by the air",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Limit: 0.5, For: 30 * time.Minute},
			Says:        "its limit {5 °C} is reached or will be within the hour; a batch is inside",
			Action:      "Look at the door and feel the bags. Move them to another fridge or an ice chest; write down where. Do not taste. Hold the batch.",
			Repeat:      15 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a defrost, a long loading: both are told apart by the air; a sensor near the fan or the light",
			Source:      "product estimated from the air, half an hour over 5 °C or there within the hour: proposal",
		},
	}
}

// A fridge that is too cold.
func coldFridge() []Entry {
	return []Entry{
		{
			ID: "C4", Title: "Fridge too cold to cure", Measure: "product temperature", Unit: "°C",
			Triggers:    []Trigger{{Below: true, Limit: celsius(34), For: 6 * time.Hour, Level: Tell}},
			Clear:       Clear{Limit: celsius(35), For: 2 * time.Hour},
			Says:        "product sensor {value}, lower limit {limit}",
			Action:      "Set the fridge warmer. The cure goes slower now; the batch shows the days added.",
			Repeat:      12 * time.Hour,
			ReAlarm:     24 * time.Hour,
			FalseAlarms: "a garage in winter; a sensor touching the cold plate",
			Source:      tradeLimit,
		},
		{
			ID: "C5", Title: "Fridge freezes the meat", Measure: "product temperature", Unit: "°C",
			Triggers:    []Trigger{{Below: true, Limit: celsius(29), For: 2 * time.Hour, Level: Tell}},
			Clear:       Clear{Limit: celsius(31), For: 30 * time.Minute},
			Says:        "product sensor {value}, lower limit {limit}",
			Action:      "Bring it inside or set it warmer. Frozen days do not count for the cure.",
			Repeat:      12 * time.Hour,
			ReAlarm:     24 * time.Hour,
			FalseAlarms: "a sensor that touches the cold plate",
			Source:      tradeLimit,
		},
	}
}

// What a fridge is warm of.
func doorAndMachine() []Entry {
	return []Entry{
		{
			// From ten minutes on the measure counts only with a batch in warming air.
			ID: "C6", Title: "Fridge door open", Measure: "door open", Unit: "min",
			Triggers:    []Trigger{{Limit: 3, Level: Tell}, {Limit: 10, Level: Ring}},
			Clear:       Clear{Limit: 0, For: 30 * time.Second},
			Says:        "open for {lasted}, limit {limit}",
			Elapsed:     true,
			Action:      "Shut it. Look for a corner of a bag in the seal.",
			Repeat:      10 * time.Minute,
			ReAlarm:     30 * time.Minute,
			FalseAlarms: "a switch out of line; its magnet fell off",
			Source:      "limits: common practice, no source; bands: proposal",
		},
		{
			ID: "C7", Title: "Compressor does not cool", Measure: "compressor at a stop", Unit: "h",
			Triggers:    []Trigger{{Limit: 2, Level: Tell}},
			Clear:       Clear{Limit: 0, For: time.Hour},
			Says:        "the air has only risen for {lasted}, as with a compressor that stands still",
			Elapsed:     true,
			Action:      "Listen to it. Clean the coil, look at fan and plug; plan another fridge.",
			Repeat:      2 * time.Hour,
			ReAlarm:     4 * time.Hour,
			HidesBehind: []string{"C1", "C2", "C3", "C6", "B5"},
			FalseAlarms: "a hot day, a large load",
			Source:      proposal,
		},
		{
			// Two normal cycles end it: an hour in which it rests again and again.
			ID: "C7r", Title: "Compressor never rests", Measure: "compressor without a rest", Unit: "h",
			Triggers:    []Trigger{{Limit: 6, Level: Tell}},
			Clear:       Clear{Limit: 1, For: time.Hour},
			Says:        "by the air it used to rest, and has not for {lasted}",
			Elapsed:     true,
			Action:      "Listen to it. Is the door shut? Clean the coil, look at the fan; plan another fridge.",
			Repeat:      6 * time.Hour,
			ReAlarm:     12 * time.Hour,
			HidesBehind: []string{"C1", "C2", "C3", "C6", "C7", "B5"},
			FalseAlarms: "a hot day, a large load; a dial turned much colder",
			Source:      proposal,
		},
	}
}

// Freezer and drying room.
func otherCold() []Entry {
	return []Entry{
		{
			ID: "C8", Title: "Freezer thawing", Measure: "freezer temperature", Unit: "°C",
			Triggers:    []Trigger{{Limit: celsius(15), For: 2 * time.Hour, Level: Ring}},
			Clear:       Clear{Limit: celsius(10), For: time.Hour},
			Says:        "freezer at {value}, limit {limit}",
			Action:      "Keep it shut. Dry ice, or another freezer.",
			Repeat:      30 * time.Minute,
			ReAlarm:     2 * time.Hour,
			HidesBehind: []string{"B5"},
			FalseAlarms: "a defrost; a big load just put in",
			Source:      tradeLimit,
		},
		{
			ID: "C9", Title: "Room too dry or too damp", Measure: "humidity outside its band", Unit: "%",
			Triggers:    []Trigger{{Limit: 0.1, For: time.Hour, Level: Tell}},
			Clear:       Clear{Limit: 0, For: 30 * time.Minute},
			Says:        "{value} outside the band of the plan",
			Worst:       "{value} outside the band",
			Action:      "Fan, tray, door. Too dry closes the surface, too damp grows mould.",
			Repeat:      4 * time.Hour,
			ReAlarm:     12 * time.Hour,
			FalseAlarms: "a sensor that was wet reads 99 to 100 % for days",
			Source:      "band: the plan's; delays: proposal",
		},
	}
}

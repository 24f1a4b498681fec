package alerts

import (
	"slices"
	"time"
)

func hotSide(fuel Fuel) []Entry {
	return slices.Concat(fires(fuel), risingCore(), targets(), coreProbes(), airOfCook())
}

// A fire that is too hot, or none.
func fires(fuel Fuel) []Entry {
	return []Entry{
		{
			// Over the set point + 33 K (60 °F), or 149 °C (300 °F): from there the measure counts.
			ID: "H1", Title: "FIRE in the smoker", Measure: "chamber in flames", Unit: "K",
			Triggers:    []Trigger{{Limit: 0, Level: Ring}},
			Clear:       Clear{Limit: kelvin(25) - kelvin(60), For: 5 * time.Minute},
			Says:        "{value} over what a smoker is meant to reach",
			Worst:       "{value} over",
			Never:       1000, // process.FlareSure
			SaysNever:   "getting hotter as only a fire does",
			Action:      "FIRE: stay back. Power or gas off, close the air, do not open the door, call for help.",
			Repeat:      5 * time.Minute,
			ReAlarm:     10 * time.Minute,
			FalseAlarms: "a probe in the flare of the wood box",
			Source:      "the measure counts from the set point + 33 K, or 149 °C; 11 K a minute for two minutes is a fire whatever the limit: proposal",
		},
		{
			ID: "H2", Title: "Smoker too hot", Measure: "chamber above set point", Unit: "K",
			Triggers:    []Trigger{{Limit: kelvin(30), For: 5 * time.Minute, Level: Tell}},
			Clear:       Clear{Limit: kelvin(15), For: 5 * time.Minute},
			Says:        "{value} above its set point, limit {limit}",
			Worst:       "{value} above its set point",
			Action:      "Damper, fuel: less of both.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			HidesBehind: []string{"H1"},
			FalseAlarms: "the overshoot after lighting; sun on the probe",
			Source:      proposal,
		},
		{
			ID: "H3", Title: "Fire going out", Measure: "chamber below set point", Unit: "K",
			Triggers:    []Trigger{{Limit: kelvin(30), For: fuel.patience(), Level: Ring}},
			Clear:       Clear{Limit: kelvin(15), For: 5 * time.Minute},
			Says:        "{value} below its set point, limit {limit}",
			Worst:       "{value} below its set point",
			Action:      "Relight, or reset the breaker. Note the core now. Do not open more than needed.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			FalseAlarms: "loading, basting, feeding wood; a stage with a lower set point",
			Source:      proposal,
		},
		{
			ID: "H4", Title: "Fire is out", Measure: "chamber above the room", Unit: "K",
			Triggers:    []Trigger{{Below: true, Limit: kelvin(15), For: 5 * time.Minute, Level: Ring}},
			Clear:       Clear{Limit: kelvin(30), For: 5 * time.Minute},
			Says:        "only {value} above the room, limit {limit}",
			Worst:       "{value} above the room",
			Action:      "Relight, or reset the breaker. Note the core now. Do not open more than needed.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			HidesBehind: []string{"H3"},
			FalseAlarms: "the room's probe hangs in the smoke",
			Source:      proposal,
		},
	}
}

// A core that comes up too slowly.
func risingCore() []Entry {
	return []Entry{
		{
			ID: "H5", Title: "Core is not rising", Measure: "time without core rise", Unit: "min",
			Triggers:    []Trigger{{Limit: 45, Level: Tell}},
			Clear:       Clear{Limit: 30, For: 5 * time.Minute},
			Says:        "slowest core not up by {1 K} for {value}, limit {limit}",
			Elapsed:     true,
			Action:      "Compare core and chamber: a small gap means no heat is left to give, a large one is evaporation. Raise the house, or wait.",
			Repeat:      45 * time.Minute,
			ReAlarm:     90 * time.Minute,
			HidesBehind: []string{"H3", "B1"},
			FalseAlarms: "two-point noise; a probe that was moved",
			Source:      proposal,
		},
		{
			// From five hours on the measure counts only if the time will be too long.
			ID: "H6", Title: "Core comes up too slowly", Measure: "come-up time", Unit: "h",
			Triggers: []Trigger{
				{Limit: 4, Level: Tell},
				{Limit: 5, Level: Ring, Action: "Raise the house now, or finish in an oven. At this rate the time allowed will be passed. Keep the numbers."},
			},
			Clear:       Clear{Never: true},
			Says:        "{value} between {10 °C} and {54.44 °C}; 6 h are allowed",
			Action:      "Look at the rate. Raise the house in time; have an oven ready.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a probe that was in the air at the start",
			Source:      "6 h: FSIS-GD-2021-14 p. 23; hours of warning: proposal",
		},
	}
}

// A core at its target.
func targets() []Entry {
	return []Entry{
		{
			ID: "H7", Title: "Core nearly there", Measure: "core below target", Unit: "K", Prompt: true,
			Triggers:    []Trigger{{Below: true, Limit: kelvin(5), Level: Tell}},
			Clear:       Clear{Limit: kelvin(12)},
			Says:        "slowest core {value} below its target",
			Worst:       "{value} below its target",
			Action:      "Get ready: a cold place, tray, ice.",
			FalseAlarms: "a probe at the edge",
			Source:      proposal,
		},
		{
			ID: "H8", Title: "Core at target, held", Measure: "core target held",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Never: true, ByAck: true},
			Says:        "slowest core at its target, and its hold time has passed",
			Prompt:      true,
			Action:      "Check with a second thermometer, take off, start the chill, count the slabs.",
			Repeat:      15 * time.Minute,
			FalseAlarms: "a probe at the edge; a second probe that reads lower",
			Source:      proposal,
		},
		{
			ID: "H9", Title: "Core over its target", Measure: "core above target", Unit: "K",
			Triggers:    []Trigger{{Limit: kelvin(8), For: 3 * time.Minute, Level: Ring}},
			Clear:       Clear{Never: true, ByAck: true},
			Says:        "hottest core {value} over its target",
			Worst:       "{value} over its target",
			Action:      "Pull it now: fat is rendering.",
			Repeat:      15 * time.Minute,
			FalseAlarms: "a probe at the edge",
			Source:      proposal,
		},
	}
}

// Probes that are not where they were.
func coreProbes() []Entry {
	return []Entry{
		{
			ID: "H10", Title: "Core falling", Measure: "core fallen", Unit: "K",
			Triggers:    []Trigger{{Limit: kelvin(4), For: time.Minute, Level: Ring}},
			Clear:       Clear{Limit: 0.3, For: 10 * time.Minute},
			Says:        "{value} under its highest of ten minutes, and the chamber did not fall",
			Worst:       "{value} under its highest",
			Action:      "Probe slipping out of the meat, or a door open: look, seat it again, write a note that it was reseated.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			HidesBehind: []string{"H3", "H4", "H11"},
			FalseAlarms: "cold marinade poured on",
			Source:      proposal,
		},
		{
			ID: "H11", Title: "Probe is probably out", Measure: "probe out of the meat",
			Triggers:    []Trigger{{Limit: 1, For: time.Minute, Level: Tell}},
			Clear:       Clear{Limit: 0},
			Says:        "it jumped toward the chamber or the room; what it reads since is not core",
			Action:      "Look, put it back into the middle, write a note that it was reseated.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			HidesBehind: []string{"H3", "H4"},
			FalseAlarms: "a probe moved on purpose",
			Source:      proposal,
		},
		{
			ID: "H12", Title: "Cores are far apart", Measure: "cores differ", Unit: "K",
			Triggers:    []Trigger{{Limit: kelvin(25), For: 20 * time.Minute, Level: Tell}},
			Clear:       Clear{Limit: kelvin(15), For: 10 * time.Minute},
			Says:        "{value} between the warmest and the coldest core, limit {limit}",
			Worst:       "{value} apart",
			Action:      "Swap the racks; finish by the slow one.",
			Repeat:      2 * time.Hour,
			ReAlarm:     4 * time.Hour,
			FalseAlarms: "pieces of very different thickness, by plan",
			Source:      proposal,
		},
	}
}

// The air of the smoker.
func airOfCook() []Entry {
	return []Entry{
		{
			ID: "H13", Title: "Air too dry for the rule", Measure: "air drier than the plan", Unit: "",
			Triggers:    []Trigger{{Limit: 0.5, For: 5 * time.Minute, Level: Tell}},
			Clear:       Clear{Limit: 0, For: 5 * time.Minute},
			Says:        "drier than the plan asks",
			Never:       100,
			SaysNever:   "the sock of the wet bulb is dry: it reads as the air beside it, and its readings do not count",
			Action:      "Close the dampers, fill the water pan, wet the sock. The clock of this stage earns nothing meanwhile.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			FalseAlarms: "steam not up yet after lighting",
			Source:      "schedule: the plan's; delays: proposal",
		},
		{
			ID: "H14", Title: "Cold smoke too warm", Measure: "chamber in cold smoke", Unit: "°C",
			Triggers:    []Trigger{{Limit: celsius(90), For: 20 * time.Minute, Level: Tell}},
			Clear:       Clear{Limit: celsius(85), For: 10 * time.Minute},
			Says:        "chamber {value}, limit {limit}",
			Action:      "Ice tray, wait for the night, or stop.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			HidesBehind: []string{"H1"},
			FalseAlarms: "sun on the probe",
			Source:      "32 °C: common practice, no source; delays: proposal",
		},
		{
			ID: "H15", Title: "Lid open in a cook", Measure: "lid open in a cook",
			Triggers:    []Trigger{{Limit: 1, Level: Note}},
			Clear:       Clear{Limit: 0},
			Says:        "the chamber fell as it does with an open lid",
			Action:      "It goes on the record.",
			FalseAlarms: "a gust",
			Source:      proposal,
		},
	}
}

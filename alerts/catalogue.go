package alerts

import (
	"slices"
	"time"
)

// The sources of the catalogue. Limits in °F are those of the trade and are kept
// exact; delays, bands and repeats are ours until a kitchen has tried them.
const (
	proposal   = "proposal"
	tradeLimit = "limit: common practice, no source; delays and bands: proposal"
	summedIdea = "limit: common practice, no source; continuous and summed delay side by side, because a delay " +
		"that starts afresh at every dip hides a tired fridge: proposal"
)

// Catalogue returns every alarm of this version, in the order of the wall chart:
// cold side, cure tasks, hot side, chill, blindness. The delay of H3 depends on
// what heats the smoker. Measures are the words that the process room uses.
func Catalogue(fuel Fuel) []Entry {
	return slices.Concat(coldSide(), cureTasks(), hotSide(fuel), chill(), blindness())
}

// WithLimits returns e with other limits, for a plan that asks for its own: the
// clear limit and one for each trigger, in the unit of the measure. Limits that
// are missing keep their value.
func (e Entry) WithLimits(clear float64, triggers ...float64) Entry {
	e.Clear.Limit = clear
	e.Triggers = slices.Clone(e.Triggers)
	for i, limit := range triggers[:min(len(triggers), len(e.Triggers))] {
		e.Triggers[i].Limit = limit
	}
	return e
}

// celsius converts °F to °C.
func celsius(f float64) float64 { return (f - 32) / 1.8 }

// kelvin converts a difference in °F to K.
func kelvin(f float64) float64 { return f / 1.8 }

func coldSide() []Entry {
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
			ID: "C2", Title: "Fridge too warm with a batch inside", Measure: "product temperature, in use", Unit: "°C",
			Triggers: []Trigger{
				{Limit: 5, For: 2 * time.Hour, Sum: 2 * time.Hour, Window: 24 * time.Hour, Level: Ring},
				{Limit: 7.2, For: 20 * time.Minute, Level: Ring},
			},
			Clear:       Clear{Limit: celsius(40), For: 30 * time.Minute},
			Says:        "product sensor {value}, limit {limit}",
			Action:      "Move the bags to another fridge or an ice chest; write down where. Do not taste. Hold the batch.",
			Repeat:      15 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "the sensor bottle left out of the fridge while it was cleaned",
			Source:      summedIdea,
		},
		{
			ID: "C3", Title: "Fridge too warm by its air, with a batch inside", Measure: "product, by the air",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Limit: 0.5, For: 30 * time.Minute},
			Says:        "no slow sensor; by the air the product is at 5 °C or will be within the hour",
			Action:      "Look at the door and feel the bags. Move them to another fridge or an ice chest; write down where. Do not taste. Hold the batch.",
			Repeat:      15 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a defrost, a long loading: both are told apart by the air; a sensor near the fan or the light",
			Source:      "product estimated from the air, half an hour over 5 °C or there within the hour: proposal",
		},
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
	}
}

func cureTasks() []Entry {
	return []Entry{{
		ID: "K1", Title: "Turn the slabs", Measure: "time since turn", Unit: "h", Prompt: true,
		Triggers: []Trigger{
			{Limit: 24, Level: Tell},
			{Limit: 36, Level: Tell, Action: "Turn now and log it. A day and a half on one side goes on the record; " +
				"give the other side equal time."},
		},
		Clear:       Clear{Limit: 20},
		Says:        "{value} since the last turn, due every {limit}",
		Action:      "Turn the slabs and log it; give the other side equal time.",
		Repeat:      4 * time.Hour,
		ReAlarm:     4 * time.Hour,
		FalseAlarms: "turned but not logged: log it with the time it was done",
		Source:      "interval: the plan's; 36 h and repeats: proposal",
	}}
}

func hotSide(fuel Fuel) []Entry {
	return []Entry{
		{
			ID: "H3", Title: "Fire going out", Measure: "chamber below set point", Unit: "K",
			Triggers:    []Trigger{{Limit: kelvin(30), For: fuel.patience(), Level: Ring}},
			Clear:       Clear{Limit: kelvin(15), For: 5 * time.Minute},
			Says:        "chamber {value} below its set point, limit {limit}",
			Action:      "Relight, or reset the breaker. Note the core now. Do not open more than needed.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			FalseAlarms: "loading, basting, feeding wood; a stage with a lower set point",
			Source:      proposal,
		},
		{
			ID: "H5", Title: "Core is not rising", Measure: "time without core rise", Unit: "min",
			Triggers:    []Trigger{{Limit: 45, Level: Tell}},
			Clear:       Clear{Limit: 30, For: 5 * time.Minute},
			Says:        "slowest core not up by 1 K for {value}, limit {limit}",
			Action:      "Compare core and chamber: a small gap means no heat is left to give, a large one is evaporation. Raise the house, or wait.",
			Repeat:      45 * time.Minute,
			ReAlarm:     90 * time.Minute,
			HidesBehind: []string{"H3", "B1"},
			FalseAlarms: "two-point noise; a probe that was moved",
			Source:      proposal,
		},
		{
			ID: "H8", Title: "Core target reached and held", Measure: "core target held",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Never: true, ByAck: true},
			Says:        "slowest core has reached its target and the hold time has passed",
			Prompt:      true,
			Action:      "Check with a second thermometer, take off, start the chill, count the slabs.",
			Repeat:      15 * time.Minute,
			FalseAlarms: "a probe at the edge; a second probe that reads lower",
			Source:      proposal,
		},
	}
}

func chill() []Entry {
	return []Entry{
		{
			ID: "L2", Title: "Chill will be late", Measure: "chill forecast late", Unit: "min",
			// Two forecasts 10 min apart: one alone may be a probe just pulled.
			Triggers:    []Trigger{{Limit: 0, For: 10 * time.Minute, Level: Ring}},
			Clear:       Clear{Limit: -5, For: 10 * time.Minute},
			Says:        "forecast is {value} past the time allowed",
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
			Says:        "{value} over the time allowed",
			Action:      "Hold the batch and tag it. Write down the numbers. Evaluation or discard is a person's decision.",
			Repeat:      time.Hour,
			FalseAlarms: "a probe that was pulled or lies against warm metal",
			Source:      "limit: the plan's; delays: proposal",
		},
	}
}

func blindness() []Entry {
	return []Entry{
		{
			ID: "B1", Title: "Probe silent in a cook", Measure: "silence in a cook", Unit: "min",
			// The measure counts from three intervals, at least 5 min, of silence.
			Triggers: []Trigger{{Limit: 0, Level: Ring}},
			// Two good readings: the first starts the minute, silence would end it.
			Clear:       Clear{Limit: -1, For: time.Minute},
			Says:        "silent for {value} more than allowed",
			Action:      "Check lead, battery and wifi. Take a reading by hand and type it in.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			HidesBehind: []string{"B7"},
			FalseAlarms: "a battery change",
			Source:      proposal,
		},
		{
			ID: "B2", Title: "Fridge sensor silent with a batch inside", Measure: "silence of a fridge", Unit: "min",
			Triggers: []Trigger{
				{Limit: 30, Level: Tell},
				{Limit: 120, Level: Ring, Action: "Go to the fridge and look. Read a thermometer and type it in; the batch has not been watched for two hours."},
			},
			Clear:       Clear{Limit: 25, For: 10 * time.Minute},
			Says:        "nothing heard for {value}, limit {limit}",
			Action:      "Look at the fridge with your own eyes; type in the reading.",
			Repeat:      time.Hour,
			ReAlarm:     2 * time.Hour,
			HidesBehind: []string{"B7"},
			FalseAlarms: "a router that restarts at 3 in the morning",
			Source:      proposal,
		},
		{
			ID: "B7", Title: "A path is dead", Measure: "path away", Unit: "min",
			Triggers:    []Trigger{{Limit: 5, Level: Ring}},
			Clear:       Clear{Limit: 1, For: 2 * time.Minute},
			Says:        "no answer for {value}, limit {limit}",
			Action:      "Go and look: power, network, broker, phone service. Nothing will be heard through this path until it is back.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a router that restarts at 3 in the morning",
			Source:      proposal,
		},
		{
			ID: "B10", Title: "Readings cannot be stored", Measure: "disk fault",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Limit: 0, For: 5 * time.Minute},
			Says:        "the disk refuses writes; readings wait without an acknowledgement, and a sensor that does not send again loses its own",
			Action:      "Free some space or change the disk. Write down temperatures by hand until this is over.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a backup that filled the disk for a moment",
			Source:      proposal,
		},
	}
}

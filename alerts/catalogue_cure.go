package alerts

import "time"

// morning is when the steps of a day are told, by the clock on the wall (proposal).
const morning = 9 * time.Hour

func cureTasks() []Entry {
	return []Entry{{
		ID: "K1", Title: "Turn the slabs", Measure: "time since turn", Unit: "h", Prompt: true,
		Triggers: []Trigger{
			{Limit: 24, Level: Tell},
			{Limit: 36, Level: Tell, Says: "not turned for {lasted}: a day and a half on one side", Action: "Turn now and log it. A day and a half on one side goes on the record; " +
				"give the other side equal time."},
		},
		Clear:       Clear{Limit: 20},
		Says:        "not turned for {lasted}, due every {limit}",
		Elapsed:     true,
		Action:      "Turn the slabs and log it; give the other side equal time.",
		Repeat:      2 * time.Hour,
		ThenDaily:   true, // else it nags by night and day until it is switched off
		ReAlarm:     4 * time.Hour,
		FalseAlarms: "turned but not logged: log it with the time it was done",
		Source:      "interval, so that it comes at the hour of the last turn, or the hour the house chose: common practice; 2 h later again, 36 h and then once a day: proposal",
	}, {
		ID: "K2", Title: "Two days without a turn", Measure: "time since turn", Unit: "h",
		Triggers:    []Trigger{{Limit: 48, Level: Note}},
		Clear:       Clear{Limit: 20},
		Says:        "not turned for {lasted}",
		Elapsed:     true,
		Action:      "It goes on the record as a mark of quality.",
		FalseAlarms: "turned but not logged",
		Source:      "common practice, no source",
	}, {
		ID: "K3", Title: "Cure time by your rule", Measure: "cure time left", Unit: "h", Prompt: true,
		// Looked at once a day, at nine: by midnight it is 15 h, so that 39 h or less is
		// some time tomorrow, 15 h or less today, and 57 h past or more three days ago.
		Hour: morning,
		Triggers: []Trigger{
			{Below: true, Limit: 39, Level: Tell},
			{Below: true, Limit: 15, Level: Tell, Says: "ready {day} by your rule", Action: "The time is up today by your rule. Fry a slice, rinse, dry; or say \"leave it\" in a note."},
			{Below: true, Limit: -57, Level: Tell, Says: "ready {day} by your rule: {past} over", Action: "Take it on, or write down why it stays."},
		},
		Clear:       Clear{Limit: 45},
		Says:        "ready {day} by your rule, {value} to go",
		Action:      "Plan the smoke, fuel and time.",
		FalseAlarms: "none known",
		Source:      "the user's rule; days before and after, and nine o'clock: proposal",
	}, doseCheck()}
}

// doseCheck looks at the curing salt of one piece; the cure cannot be left without a
// reason while it stands.
func doseCheck() Entry {
	return Entry{
		// 1: the dose fails its checks; 2: others have a dose and this piece has none.
		ID: "K4", Title: "Check the dose of cure", Measure: "dose of cure",
		Triggers:    []Trigger{{Limit: 1, Level: Tell}},
		Clear:       Clear{Limit: 0},
		Says:        "this dose does not pass its check",
		Never:       2,
		SaysNever:   "no cure was logged, and the other slabs have theirs",
		Action:      "Weigh it again before it goes on, or log what was weighed. Over the cap: wash off, weigh again, start again, and hold it.",
		Repeat:      12 * time.Hour,
		ReAlarm:     24 * time.Hour,
		FalseAlarms: "a decimal point or comma that slipped in typing; pounds for kilograms: correct the entry and say why",
		Source:      "caps: the rule the user chose (process/rules); 5 % off what was asked, half an hour for the next slab and repeats: proposal",
	}
}

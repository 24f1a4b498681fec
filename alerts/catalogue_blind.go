package alerts

import (
	"slices"
	"time"
)

func blindness() []Entry {
	return slices.Concat(silence(), doubtedUnit(), flatness(), vitals(), saying(), mainsAndClock(), machineClock(), twins(), paths(), copies(), unanswered(), checks(), driftingPair(), disk())
}

// Probes that say nothing.
func silence() []Entry {
	return []Entry{
		{
			ID: "B1", Title: "Probe silent", Measure: "silence in a cook", Unit: "min",
			// The measure counts from three intervals, at least 5 min, of silence.
			Triggers: []Trigger{{Limit: 0, Level: Ring}},
			// Two good readings: the first starts the minute, silence would end it.
			Clear:       Clear{Limit: -1, For: time.Minute},
			Worst:       "{value} too long",
			Says:        "that is longer than it may be silent in a cook",
			Action:      "Check lead, battery and wifi. Take a reading by hand and type it in.",
			Repeat:      15 * time.Minute,
			ReAlarm:     30 * time.Minute,
			HidesBehind: []string{"B1g", "B7"},
			FalseAlarms: "a battery change",
			Source:      proposal,
		},
		{
			ID: "B2", Title: "Fridge not heard", Measure: "silence of a fridge", Unit: "min",
			Triggers: []Trigger{
				{Limit: 30, Level: Tell},
				{Limit: 120, Level: Ring, Action: "Go to the fridge and look. Read a thermometer and type it in; the batch has not been watched for two hours."},
			},
			Clear:       Clear{Limit: 25, For: 10 * time.Minute},
			Says:        "nothing that can be believed for {lasted}, limit {limit}, with a batch inside",
			Elapsed:     true,
			Action:      "Look at the fridge with your own eyes, and at the sensor: its battery, and is it set to another unit? Type in the reading.",
			Repeat:      time.Hour,
			ReAlarm:     2 * time.Hour,
			HidesBehind: []string{"B2g", "B7"},
			FalseAlarms: "a router that restarts at 3 in the morning",
			Source:      proposal,
		},
	}
}

// Probes of which it is not known what their numbers mean.
func doubtedUnit() []Entry {
	return []Entry{{
		// A question and no alarm: B2 rings if nobody has answered it.
		ID: "B2u", Title: "Is it set to another unit?", Measure: "unit of a sensor", Prompt: true,
		Triggers:    []Trigger{{Limit: 1, Level: Note}},
		Clear:       Clear{Limit: 0},
		Says:        "what it reads since does not count",
		Action:      "Look at the sensor, and say what it sends now: flitch probe unit NAME F, or C. Or turn it back.",
		FalseAlarms: "taken out of the fridge into a warm place that happens to read so: answer with the unit it always had",
		Source:      proposal,
	}}
}

// Two probes of which one is wrong.
func driftingPair() []Entry {
	return []Entry{{
		ID: "B9d", Title: "Two probes differ", Measure: "two probes apart", Unit: "K",
		Triggers:    []Trigger{{Limit: 0.1, Level: Tell}},
		Clear:       Clear{Limit: 0},
		Worst:       "{value} farther apart",
		Says:        "{value} farther apart than on their first day; one of the two is wrong",
		Action:      "Ice bath for both: crushed ice and water, stirred, two minutes; log what each reads with flitch probe check.",
		Repeat:      24 * time.Hour,
		ReAlarm:     7 * 24 * time.Hour,
		FalseAlarms: "one of the two moved to a warmer corner, or with a warm bag beside it",
		Source:      "cumulative sum of their difference, Page 1954, from memory; first day and quiet ten minutes: proposal",
	}}
}

// Devices that have words for what is wrong with them. That they are gone is told without
// waiting for silence, which then adds nothing.
func saying() []Entry {
	return []Entry{{
		ID: "B1g", Title: "Probe gone", Measure: "probe gone in a cook", Unit: "min",
		Triggers:    []Trigger{{Limit: 0, Level: Ring}},
		Clear:       Clear{Limit: -1, For: time.Minute},
		Says:        "gone for {lasted} by its device's own word",
		Elapsed:     true,
		Action:      "Check battery and wifi of the device. Take a reading by hand and type it in.",
		Repeat:      15 * time.Minute,
		ReAlarm:     30 * time.Minute,
		HidesBehind: []string{"B7"},
		FalseAlarms: "a battery change",
		Source:      "last will of Homie and Sparkplug B; level as B1: proposal",
	}, {
		ID: "B2g", Title: "Fridge probe gone", Measure: "fridge sensor gone", Unit: "min",
		Triggers: []Trigger{
			{Limit: 0, Level: Tell},
			{Limit: 120, Level: Ring, Action: "Go to the fridge and look. Read a thermometer and type it in; the batch has not been watched for two hours."},
		},
		Clear:       Clear{Limit: -1, For: 10 * time.Minute},
		Says:        "gone for {lasted} by its device's own word, with a batch inside",
		Elapsed:     true,
		Action:      "Look at the fridge with your own eyes, and at the sensor: its battery, its wifi. Type in the reading.",
		Repeat:      time.Hour,
		ReAlarm:     2 * time.Hour,
		HidesBehind: []string{"B7"},
		FalseAlarms: "a router that restarts at 3 in the morning",
		Source:      "last will of Homie and Sparkplug B; levels as B2: proposal",
	}, {
		ID: "B4a", Title: "Sensor complains", Measure: "sensor asks for a person",
		Triggers:    []Trigger{{Limit: 1, Level: Tell}},
		Clear:       Clear{Limit: 0},
		Says:        "its device says that something is wrong",
		Action:      "Look at the sensor, and read a thermometer by hand beside it.",
		Repeat:      24 * time.Hour,
		ReAlarm:     24 * time.Hour,
		HidesBehind: []string{"B1", "B2", "B1g", "B2g"},
		FalseAlarms: "a device that complains of another of its sensors",
		Source:      "state alert and alert topic of the Homie convention 3.0.1 to 5.0.0; level: proposal",
	}}
}

// Probes that say the same.
func flatness() []Entry {
	return []Entry{
		{
			ID: "B3", Title: "Probe stuck", Measure: "core reads the same", Unit: "min",
			Triggers:    []Trigger{{Limit: 20, Level: Tell}},
			Clear:       Clear{Limit: 0},
			Says:        "the same to the last digit for {value}; what it reads since does not count",
			Elapsed:     true,
			Action:      "Look at the probe and its lead; read a thermometer by hand and type it in.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			HidesBehind: []string{"B1", "H3", "H4"},
			FalseAlarms: "a retained message, a sensor with coarse steps",
			Source:      proposal,
		},
		{
			ID: "B3f", Title: "Fridge probe stuck", Measure: "fridge reads the same", Unit: "h",
			Triggers:    []Trigger{{Limit: 6, Level: Tell}},
			Clear:       Clear{Limit: 0.5},
			Says:        "the same to the last digit for {value}",
			Elapsed:     true,
			Action:      "Look at the fridge with your own eyes; move the sensor a little and see whether it follows.",
			Repeat:      12 * time.Hour,
			ReAlarm:     24 * time.Hour,
			HidesBehind: []string{"B2"},
			FalseAlarms: "a good fridge and a sensor with steps of half a degree: it gets four times as long",
			Source:      proposal,
		},
	}
}

// Power and time.
func mainsAndClock() []Entry {
	return []Entry{
		{
			ID: "B5", Title: "Mains off", Measure: "mains off", Unit: "min",
			Triggers: []Trigger{
				{Limit: 2, Level: Tell},
				{Limit: 120, Level: Ring, Action: "Two hours without power. Read the slow sensor; ice, or another fridge. About four hours is what a shut fridge keeps."},
			},
			Clear:       Clear{Limit: 0, For: 5 * time.Minute},
			Says:        "no power for {lasted}",
			Elapsed:     true,
			Action:      "Leave the doors shut: a fridge keeps about four hours. Write down when it began.",
			Repeat:      time.Hour,
			ReAlarm:     2 * time.Hour,
			FalseAlarms: "a sensor on a switched socket",
			Source:      "4 h: US federal household power-cut advice; delays: proposal",
		},
		{
			// Told once: it is over, and late readings never ring. It stands long enough to
			// be seen, and not so long that it swallows the next one.
			ID: "B5l", Title: "Mains were off", Measure: "mains were off", Unit: "min",
			Triggers:    []Trigger{{Limit: 2, Level: Tell}},
			Clear:       Clear{Limit: 0, For: 12 * time.Hour},
			Says:        "no power for {value}, as readings tell that came in late",
			Action:      "Read the slow sensor, and look at the record: how warm did it get, and for how long? Write down when it was off.",
			FalseAlarms: "a sensor on a switched socket",
			Source:      proposal,
		},
		{
			ID: "B6", Title: "Clock not believed", Measure: "clock not believed",
			Triggers:    []Trigger{{Limit: 1, For: 5 * time.Minute, Level: Tell}},
			Clear:       Clear{Limit: 0, For: 5 * time.Minute},
			Says:        "the board's time cannot be; its readings have the time they came",
			Action:      "Set the board's clock, or let it send no time. Times on the record carry a mark.",
			Repeat:      24 * time.Hour,
			ReAlarm:     24 * time.Hour,
			FalseAlarms: "a board that has just started",
			Source:      proposal,
		},
	}
}

// Devices that are in each other's way.
func twins() []Entry {
	return []Entry{{
		ID: "B7d", Title: "Two devices, one name", Measure: "devices of one name", Unit: "min",
		Triggers:    []Trigger{{Limit: 5, Level: Tell}},
		Clear:       Clear{Limit: 1},
		Says:        "more than one device connects by this name, for {lasted}: each sends the other away, and readings come late or not at all",
		Elapsed:     true,
		Action:      "Give each device a client id of its own. If there is only one, its network breaks all the time: look at its wifi.",
		Repeat:      24 * time.Hour,
		ReAlarm:     24 * time.Hour,
		FalseAlarms: "a device that restarts again and again",
		Source:      proposal,
	}}
}

// The clock that readings without a time are dated by, and all that is typed.
func machineClock() []Entry {
	return []Entry{{
		ID: "B6m", Title: "Clock of this machine", Measure: "clock of the machine",
		Triggers:    []Trigger{{Limit: 1, Level: Tell}},
		Clear:       Clear{Limit: 0},
		Says:        "the clock of the machine flitch runs on stepped, or cannot be right",
		Action:      "Set the clock of the machine, and let it ask a time server. If it is right and flitch is not, start flitch again.",
		Repeat:      72 * time.Hour, // longer than a step that is followed
		ReAlarm:     72 * time.Hour,
		FalseAlarms: "a board without a battery for its clock, after a power cut",
		Source:      proposal,
	}}
}

// Ways in and out.
func paths() []Entry {
	return []Entry{
		{
			ID: "B7", Title: "Out of reach", Measure: "path away", Unit: "min",
			Triggers:    []Trigger{{Limit: 5, Level: Ring}},
			Clear:       Clear{Limit: 1},
			Says:        "no answer for {lasted}, limit {limit}",
			Elapsed:     true,
			Action:      "Go and look: power, network, broker, phone service. Nothing will be heard through this path until it is back.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a router that restarts at 3 in the morning",
			Source:      proposal,
		},
		{
			// A path of which it is known when it will be dead. It counts from when people are
			// first told: half a year before the end of an own root, two weeks for given files.
			ID: "B7c", Title: "Ends soon", Measure: "certificate wants renewing", Unit: "d", Prompt: true,
			Hour:     morning,
			Triggers: []Trigger{{Limit: 0, Level: Tell}},
			Clear:    Clear{Never: true},
			Says:     "phones or sensors will not trust flitch much longer",
			Action: "Given files: renew them. An own root: remove its file, the name of the database with .root.key, start flitch again, " +
				"and install the new root on each phone from the page, Root certificate, and on sensors that speak TLS.",
			Repeat:      7 * 24 * time.Hour,
			ReAlarm:     30 * 24 * time.Hour,
			FalseAlarms: "the clock of the machine is wrong",
			Source:      proposal,
		},
	}
}

// Copies and proofs: nothing is in danger yet.
func copies() []Entry {
	return []Entry{
		{
			// Nobody can do anything about it at night.
			ID: "B7b", Title: "No backup", Measure: "backup failing", Unit: "min",
			Triggers:    []Trigger{{Limit: 60, Level: Tell}},
			Clear:       Clear{Limit: 1},
			Says:        "copies have failed for {lasted}, limit {limit}",
			Elapsed:     true,
			Action:      "Look at the disk that copies go to: is it plugged in, full, or worn out? Then: flitch backup",
			Repeat:      24 * time.Hour,
			ReAlarm:     24 * time.Hour,
			HidesBehind: []string{"B10"},
			FalseAlarms: "a stick that is being changed",
			Source:      proposal,
		},
		{
			// The watch goes on; only who wrote the record could be doubted later.
			ID: "B7k", Title: "Record not signed", Measure: "record not signed", Unit: "min",
			Triggers:    []Trigger{{Limit: 60, Level: Tell}},
			Clear:       Clear{Limit: 1},
			Says:        "readings and entries have not been sealed and signed for {lasted}, limit {limit}",
			Elapsed:     true,
			Action:      "Look at the file of the record key beside the database: put it back from a backup. The page says what is wrong with it.",
			Repeat:      24 * time.Hour,
			ReAlarm:     24 * time.Hour,
			HidesBehind: []string{"B10"},
			FalseAlarms: "an installation that was moved without its key",
			Source:      proposal,
		},
		{
			// The watch goes on, and all is kept here; only who looks at many sites does not see it.
			ID: "B7f", Title: "Fleet not told", Measure: "fleet not told", Unit: "min",
			Triggers:    []Trigger{{Limit: 60, Level: Tell}},
			Clear:       Clear{Limit: 1},
			Says:        "it has been wrong with the database of all sites for {lasted}, limit {limit}; out of reach counts from a day on",
			Elapsed:     true,
			Action:      "Nothing is lost, it goes up later. /healthz says what is wrong: a password, rights, or another copy of this database under the same name.",
			Repeat:      7 * 24 * time.Hour,
			ReAlarm:     24 * time.Hour,
			HidesBehind: []string{"B10"},
			FalseAlarms: "an office that is closed for the holidays",
			Source:      proposal,
		},
	}
}

// The database.
func disk() []Entry {
	return []Entry{
		{
			ID: "B10", Title: "Readings not stored", Measure: "disk fault",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Limit: 0},
			Says:        "the disk refuses writes; readings wait without an acknowledgement, and a sensor that does not send again loses its own",
			Action:      "Free some space or change the disk. Write down temperatures by hand until this is over.",
			Repeat:      30 * time.Minute,
			ReAlarm:     time.Hour,
			FalseAlarms: "a backup that filled the disk for a moment",
			Source:      proposal,
		},
		{
			// Whoever is woken can do nothing about it at night; a write that does not end at
			// all is B10.
			ID: "B10s", Title: "Writing takes seconds", Measure: "disk slow",
			Triggers:    []Trigger{{Limit: 1, Level: Tell}},
			Clear:       Clear{Limit: 0},
			Says:        "each reading and each message waits seconds for the disk; alarms come that much later",
			Action:      "A card or disk that gets slow is often about to fail: make a backup (flitch backup) and change it.",
			Repeat:      24 * time.Hour,
			ReAlarm:     24 * time.Hour,
			HidesBehind: []string{"B10"},
			FalseAlarms: "a large copy onto the same disk",
			Source:      proposal,
		},
		{
			ID: "B10d", Title: "Database damaged", Measure: "database damaged",
			Triggers:    []Trigger{{Limit: 1, Level: Ring}},
			Clear:       Clear{Limit: 0},
			Says:        "a part of the database cannot be read; what can be is shown, and evaluation goes on",
			Action:      "Change the disk or card. Stop flitch and put the newest copy back: flitch restore COPY --to DIR --by INITIALS --replace; the page has the exact command.",
			Repeat:      24 * time.Hour,
			ReAlarm:     24 * time.Hour,
			FalseAlarms: "none known",
			Source:      proposal,
		},
	}
}

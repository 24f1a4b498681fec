package sim

import (
	"math"
	"time"

	"flitch/process"
)

// The people of the shop.
const (
	cures   = "T.V."
	reviews = "M.O."
)

// An event is something that happens at a time: to the world, or said by a person,
// or both.
type event struct {
	at  time.Time
	do  func(*shop)
	say []Command
}

// clock returns a time of the story: day 0 is the Monday the batch is put in cure.
func clock(day, hour, minute int) time.Time {
	return time.Date(2031, time.July, 14+day, hour, minute, 0, 0, time.UTC)
}

// paces are the steps of the driver, each up to but not including a time.
var paces = [...]struct {
	until time.Time
	step  time.Duration
}{
	{clock(8, 6, 30), 5 * time.Minute},
	{clock(8, 13, 20), 30 * time.Second},
	{clock(9, 6, 31), time.Minute},
}

// timetable returns the events of the story in the order of time.
func timetable() []event {
	var all []event
	all = append(all, cureDays()...)
	all = append(all, smokeDay()...)
	return append(all, chillNight()...)
}

func at(day, hour, minute int, do func(*shop), say ...Command) event {
	return event{clock(day, hour, minute), do, say}
}

// cureDays is Monday to Monday: seven days in Alder, one evening with the door
// ajar, one turn forgotten until the evening.
func cureDays() []event {
	all := []event{at(0, 9, 30, nil, Command{Kind: process.CommandNew, By: cures, Stage: process.StageCure, Text: StoryTitle})}
	all = append(all, at(0, 9, 35, nil, doses()))
	all = append(all, turned(1, 8, 10)...)
	all = append(all, turned(2, 7, 50)...)
	all = append(all, ajar()...)
	all = append(all, turned(3, 7, 35)...)
	all = append(all, turned(4, 18, 20)...)
	all = append(all, at(4, 18, 20, nil, note(cures, "Turn of the morning forgotten. Other side given equal time.")))
	all = append(all, turned(5, 8, 0)...)
	all = append(all, turned(6, 7, 50)...)
	all = append(all, turned(7, 7, 30)...)
	return append(all, rinse()...)
}

// doses are the weighed cures: 156 ppm of nitrite on each slab, to a tenth of a gram.
func doses() Command {
	d := &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us"}
	for _, p := range pieces {
		grams := math.Round(10*d.PPM*1e-6*p.GreenG/d.Nitrite) / 10
		d.Portions = append(d.Portions, process.DosePortion{Pieces: []string{p.Name}, CureG: grams})
	}
	return Command{Kind: process.CommandDosed, By: cures, Dosing: d}
}

// turned is one turning: the door is opened, not wide, for two minutes.
func turned(day, hour, minute int) []event {
	return []event{
		at(day, hour, minute-2, func(s *shop) { s.alder.Door(0.12) }),
		at(day, hour, minute, func(s *shop) { s.alder.Door(0) }, Command{Kind: process.CommandTurned, By: cures}),
	}
}

// ajar is Wednesday evening: a bag corner in the door seal.
func ajar() []event {
	return []event{
		at(2, 18, 15, func(s *shop) { s.alder.Door(0.019) }),
		at(2, 21, 45, nil, acknowledge(cures, "C2", "On my way down.")),
		at(2, 22, 0, func(s *shop) { s.alder.Door(0) },
			note(cures, "Door of Alder ajar, a bag corner in the seal. Shut at 22:00. Three bags left in Alder, "+
				"cold to the hand. Hold: the warm hours go on the record for M.O. to judge.")),
	}
}

func rinse() []event {
	return []event{
		at(7, 18, 0, func(s *shop) { s.move(s.larder, cloth) }, stage(cures, process.StageRinse)),
		at(7, 18, 40, func(s *shop) { s.move(s.alder, racked) }, stage(cures, process.StageDry)),
	}
}

// smokeDay is Tuesday: lit at 06:10, on at 06:50, a stall before noon, off the
// fire at 13:20.
func smokeDay() []event {
	return []event{
		at(8, 6, 10, func(s *shop) { s.kettle.Set(StorySmokeC); s.kettle.Light() }),
		at(8, 6, 50, func(s *shop) { s.move(s.kettle, racked); s.speak() }, stage(cures, process.StageSmoke),
			note(cures, "Three slabs in Old Kettle, a core probe in each.")),
		at(8, 8, 30, func(s *shop) { s.kettle.Set(StoryCookC) }, stage(cures, process.StageCook)),
		at(8, 9, 30, func(s *shop) { s.kettle.Lid(true) }, note(cures, "Charcoal added.")),
		at(8, 9, 32, func(s *shop) { s.kettle.Lid(false) }),
		at(8, 11, 42, func(s *shop) { s.kettle.Set(StoryRaisedC) }, acknowledge(cures, "H5", "Wide gap, no rise: evaporation."),
			note(cures, "House raised to 90 C to get through the stall.")),
		at(8, 12, 38, func(s *shop) { s.kettle.Set(StoryLastC) }, note(cures, "House down to 74 C for the last degrees.")),
		at(8, 12, 52, nil, acknowledge(cures, "H8", "Seen. Second thermometer first, then off.")),
		at(8, 13, 18, nil, Command{Kind: process.CommandReading, By: cures, Placement: process.Core,
			Pieces: []string{"C"}, Value: 67.5, Text: "second thermometer, thickest place"}),
		at(8, 13, 20, func(s *shop) { s.kettle.Quench(); s.move(s.shed, cloth) },
			stage(cures, process.StageRest),
			note(cures, "Three slabs out, three counted. On the rack in the shed under a cloth.")),
	}
}

// chillNight is Tuesday afternoon to Wednesday morning: too long in a warm shed,
// then Birch.
func chillNight() []event {
	return []event{
		at(8, 17, 30, nil, acknowledge(cures, "L2", "Counter is full and Birch is too. Will move them after closing.")),
		at(8, 19, 29, func(s *shop) { s.move(s.birch, racked) },
			stage(cures, process.StageChill),
			note(cures, "Three slabs from the shed into Birch, uncovered, apart.")),
		at(8, 20, 12, nil, acknowledge(reviews, "L3", "First leg missed. Nothing leaves Birch.")),
		at(9, 6, 30, nil, note(cures, "Batch held for evaluation: the first leg of the chill took longer than the plan allows. "+
			"Three slabs in Birch, tagged. M.O. reviews.")),
	}
}

func stage(by string, name process.StageName) Command {
	return Command{Kind: process.CommandStage, By: by, Stage: name}
}

func note(by, text string) Command { return Command{Kind: process.CommandNote, By: by, Text: text} }

func acknowledge(by, entry, text string) Command {
	return Command{Kind: process.CommandAcknowledge, By: by, Entry: entry, Text: text}
}

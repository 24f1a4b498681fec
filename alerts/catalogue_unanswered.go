package alerts

import "time"

// How long a ring waits for an answer before it goes on to the next person, and how
// long each time after that (proposals).
const (
	answerWithin  = 10 * time.Minute
	askAgainEvery = 15 * time.Minute
)

// nobodyAnswers is the ID of the entry below, as it stands in the journal.
const nobodyAnswers = "B8"

// A ring that nobody answers. The entry is for the wall chart: calls are followed with
// the people (People.Tick), by the same two times, and no signal ever has its measure.
func unanswered() []Entry {
	e := Entry{
		ID: nobodyAnswers, Title: "Nobody answers a ring", Measure: "ring unanswered", Unit: "min",
		Clear:       Clear{Never: true, ByAck: true},
		Says:        "no answer for {value}",
		Repeat:      askAgainEvery,
		FalseAlarms: "a phone that is dead or told to be quiet: a test ring a week finds it",
		Source:      proposal,
	}
	for step, action := range []string{
		callFirst:  "It goes on to the second person: answer it, or take it over.",
		callSecond: "It goes on to everybody.",
		callAll:    "It goes on to everybody by every way there is. After that the alarm itself repeats, to all.",
	} {
		e.Triggers = append(e.Triggers, Trigger{Limit: callDue(step).Minutes(), Level: Tell, Action: action})
	}
	e.Action = e.Triggers[0].Action
	return []Entry{e}
}

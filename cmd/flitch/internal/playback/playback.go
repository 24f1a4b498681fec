// Package playback runs a house through a night that is over or was never there: the
// inputs of a file or of a scenario, with the minutes between them told as the daemon
// tells them. There is one such loop, so that a file and a rehearsal come to the same.
package playback

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/engine"
)

// A Player plays inputs to a house.
type Player struct {
	House  *engine.House
	Now    time.Time
	Alarms map[int64]alerts.Occurrence // as they stand, by number

	// Ticked is called after each minute that was told. Nil: not wanted.
	Ticked func()
	// Heard is called with what a command or a minute, and the readings before it,
	// brought about. Nil: not wanted.
	Heard func(Heard)

	seq int64
}

// Heard is what came of some inputs.
type Heard struct {
	Journal     []process.JournalLine
	Occurrences []alerts.Occurrence // alarms after each of their changes
	Messages    []alerts.Message
}

// New returns a player of a house in which nothing has happened yet.
func New(places []*process.Place, catalogue []alerts.Entry, policy alerts.Policy, began time.Time) *Player {
	return &Player{House: engine.NewHouse(places, catalogue, policy), Now: began, Alarms: map[int64]alerts.Occurrence{}}
}

// Take plays one input.
func (p *Player) Take(in process.Input) {
	p.seq++
	in.Seq = p.seq
	p.Now = in.At
	p.House.Take(in)
	if in.Kind == process.InputReading {
		return // what it raised is collected with the next minute
	}
	messages := p.House.Messages()
	journal, occurrences := p.House.Happened()
	for _, o := range occurrences {
		p.Alarms[o.Number] = o
	}
	if p.Heard != nil {
		p.Heard(Heard{journal, occurrences, messages})
	}
}

// In a long silence time is told less often, and after a month no more: all that
// it could raise was raised on the first day, and a mistyped year must not take a
// minute for each of its minutes.
const (
	everyMinuteFor = 24 * time.Hour
	everyHourFor   = 30 * 24 * time.Hour
)

// Minutes tells the whole minutes up to a time, as the daemon does.
func (p *Player) Minutes(to time.Time) {
	began, step := p.Now, time.Minute
	for next := began.Truncate(step).Add(step); !next.After(to); next = next.Add(step) {
		switch silent := next.Sub(began); {
		case silent > everyHourFor:
			return
		case silent > everyMinuteFor:
			step = time.Hour
		}
		p.Take(process.Input{Kind: process.InputTick, At: next})
		if p.Ticked != nil {
			p.Ticked()
		}
	}
}

// Acknowledge answers the alarms that stand open: those of the line of the catalogue
// that c.Text names, or all. It returns how many.
func (p *Player) Acknowledge(c process.Command) (answered int) {
	for _, number := range slices.Sorted(maps.Keys(p.Alarms)) {
		o := p.Alarms[number]
		if !o.AcknowledgedAt.IsZero() || !o.ClearedAt.IsZero() || c.Text != "" && c.Text != o.Entry {
			continue
		}
		c.ID, c.Alarm = fmt.Sprintf("acknowledged-%d", number), number
		p.Take(process.Input{Kind: process.InputCommand, At: c.At, Command: c})
		answered++
	}
	return answered
}

// Place returns a place with those of the probes that are in it, nothing heard yet.
func Place(name string, kind process.Where, probes []process.PlacedProbe, began time.Time) *process.Place {
	var in []process.PlacedProbe
	for _, p := range probes {
		if p.Place == name {
			in = append(in, p)
		}
	}
	return process.NewPlace(name, kind, in, began)
}

// AnyStage lets a batch begin in any stage: a logger may have been put in for the
// cook only. Then no dose is asked for; those that are told of are still checked.
func AnyStage(p process.Plan) process.Plan {
	p.Cure.Dosed = false
	p.Stages = slices.Clone(p.Stages)
	for i := range p.Stages {
		p.Stages[i].Optional = true
	}
	return p
}

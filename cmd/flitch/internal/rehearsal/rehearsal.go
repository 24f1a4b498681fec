// Package rehearsal runs a scenario through the same evaluation as the daemon, with a
// pretend phone, and says what would have rung when and which expectations were met.
package rehearsal

import (
	"context"
	"fmt"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/playback"
	"flitch/process"
	"flitch/process/scenario"
)

// phone is the name of the pretend channel of those who name nobody; of a person the
// initials follow.
const phone = "phone"

func phoneOf(initials string) string { return phone + " of " + initials }

// A rehearsal is one night under way.
type rehearsal struct {
	*playback.Player
	scenario  *scenario.Scenario
	catalogue []alerts.Entry
	policy    alerts.Policy
	places    []*process.Place
	outbox    *outbox.Outbox
	pile      pile
	batch     *process.Batch // as last seen; the house lets go of it when it is closed
	start     process.Input
	history   []process.Input // what the batch was told after its start
	rings     []Ring
	quiet     []Quiet
	reached   []reached
	loudest   map[int64]alerts.Level
	refused   []refused
}

// A reached is an alarm that came to a level.
type reached struct {
	number int64
	entry  string
	level  alerts.Level
	at     time.Time
}

// A refused is something that a person said and that was not taken.
type refused struct {
	line int
	at   time.Time
	what string
	why  string
}

// A House is what a configuration says of alarms: its people and channels, its limits.
type House struct {
	Policy    alerts.Policy
	Catalogue []alerts.Entry
	Changes   map[string][]alerts.Change // by subject of the place
}

// Run rehearses the scenario by a plan, with the people and the fuel that it names. Times
// in messages are in the zone; nil is the clock of the scenario. The error is for a plan
// that the scenario does not fit.
func Run(s *scenario.Scenario, plan process.Plan, zone *time.Location) (*Report, error) {
	if zone == nil {
		zone = s.Begins.Location()
	}
	return RunIn(House{Policy: policyOf(s, named(zone, s.Begins)), Catalogue: alerts.Catalogue(alerts.Fuel(s.Fuel))}, s, plan)
}

// RunIn is Run in a house: its people, limits and fuel, whatever the scenario names.
func RunIn(house House, s *scenario.Scenario, plan process.Plan) (*Report, error) {
	policy := house.Policy
	r := &rehearsal{scenario: s, catalogue: house.Catalogue, policy: policy, loudest: map[int64]alerts.Level{}, start: s.Start(playback.AnyStage(plan))}
	r.places = placesOf(s)
	r.Player = playback.New(r.places, r.catalogue, policy, s.At(0))
	if err := r.House.ChangePlaces(house.Changes); err != nil {
		return nil, err
	}
	r.Heard = r.hear
	r.Ticked = func() { r.outbox.Drain(context.Background()) }
	phones := make([]outbox.Channel, len(policy.Channels))
	for i, c := range policy.Channels {
		phones[i] = pretendPhone{c.Name, map[int64]bool{}, r}
	}
	var err error
	if r.outbox, err = outbox.New(&r.pile, nightClock{r.Player}, phones, outbox.Options{}); err != nil {
		return nil, err
	}
	if err := process.Check(nil, r.start.Command, r.start.At); err != nil {
		return nil, fmt.Errorf("the batch cannot begin: %w", err)
	}
	r.Take(r.start)
	r.batch = r.House.Open()[0]
	for _, e := range s.Expand() {
		r.play(e)
	}
	r.minutes(s.End().Add(time.Minute))
	return r.report(), nil
}

// named gives a zone that has only a difference to UTC a name that people can read.
func named(zone *time.Location, at time.Time) *time.Location {
	name, offset := at.In(zone).Zone()
	if name != "" {
		return zone
	}
	if offset == 0 {
		return time.UTC
	}
	return time.FixedZone("UTC"+at.In(zone).Format("-07:00"), offset)
}

// policyOf gives everybody a phone; one that is told of everything when nobody is named.
func policyOf(s *scenario.Scenario, zone *time.Location) alerts.Policy {
	p := alerts.Policy{Location: zone}
	for _, q := range s.Persons {
		p.Channels = append(p.Channels, alerts.ChannelPolicy{Name: phoneOf(q.Initials), Minimum: alerts.Tell})
		p.Persons = append(p.Persons, alerts.Person{Initials: q.Initials, Channels: []string{phoneOf(q.Initials)}, Quiet: alerts.Quiet{From: q.From, To: q.To}})
	}
	if len(p.Persons) == 0 {
		p.Channels = []alerts.ChannelPolicy{{Name: phone, Minimum: alerts.Tell}}
	}
	return p
}

func placesOf(s *scenario.Scenario) []*process.Place {
	places := make([]*process.Place, len(s.Places))
	for i, p := range s.Places {
		places[i] = playback.Place(p.Name, p.Kind, s.Probes, s.At(0))
	}
	return places
}

func (r *rehearsal) play(e scenario.Entry) {
	in := e.Input
	r.minutes(in.At)
	if in.Kind == process.InputReading {
		r.history = append(r.history, in)
		r.Take(in)
		return
	}
	switch in.Command.Kind {
	case process.CommandFault, process.CommandSensor, process.CommandVital:
		r.Take(in)
		return
	case process.CommandDuty, process.CommandShelve, process.CommandOut:
		if err := r.House.CheckPeople(in.Command); err != nil {
			r.refuse(e, err.Error())
			return
		}
		r.Take(in)
		return
	case process.CommandAcknowledge:
		if r.Acknowledge(in.Command) == 0 {
			r.refuse(e, "no such alarm stood unanswered")
		}
		return
	}
	if err := check(r.batch, in); err != nil {
		r.refuse(e, err.Error())
		return
	}
	in.Command = r.House.Complete(in.Command)
	r.history = append(r.history, in)
	r.Take(in)
	r.look()
}

// check refuses what the daemon would: a probe is checked for the house, all else said
// of the batch.
func check(b *process.Batch, in process.Input) error {
	if in.Command.Kind == process.CommandChecked {
		return process.CheckOfProbe(in.Command, in.At)
	}
	return process.Check(b, in.Command, in.At)
}

func (r *rehearsal) refuse(e scenario.Entry, why string) {
	r.refused = append(r.refused, refused{e.Line, e.Input.At, string(e.Input.Command.Kind), why})
}

// minutes tells the time, and computes the batch anew when something late has come.
func (r *rehearsal) minutes(to time.Time) {
	if r.batch.NeedsRecount && to.After(r.Now) {
		past := slices.Clone(r.history)
		slices.SortStableFunc(past, func(a, b process.Input) int { return a.EventTime().Compare(b.EventTime()) })
		r.House.Recount(r.batch, r.start, slices.Values(past))
		r.look()
	}
	r.Minutes(to)
}

// look takes the batch as the house has it.
func (r *rehearsal) look() {
	if open := r.House.Open(); len(open) > 0 {
		r.batch = open[0]
	}
}

// hear keeps what came of the newest inputs.
func (r *rehearsal) hear(h playback.Heard) {
	for _, l := range h.Journal {
		r.listen(l)
	}
	for _, o := range h.Occurrences {
		if o.Level <= r.loudest[o.Number] {
			continue
		}
		at := r.Now
		if r.loudest[o.Number] == 0 {
			at = o.RaisedAt
		}
		r.loudest[o.Number] = o.Level
		r.reached = append(r.reached, reached{o.Number, o.Entry, o.Level, at})
	}
	for _, m := range h.Messages {
		r.pile.put(m)
	}
	r.outbox.Drain(context.Background())
}

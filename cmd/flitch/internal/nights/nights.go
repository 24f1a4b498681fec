package nights

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/playback"
	"flitch/process"
	"flitch/process/plans"
)

const (
	cookC     = 90.0           // set point of the cooks, °C
	aftermath = 14 * time.Hour // after a fault was mended, before a night counts as quiet again
)

// A Request says how many nights, with which seed, and with how many faults.
type Request struct {
	Seed     uint64
	Nights   int
	Faults   int
	Without  []string        // lines of the catalogue left out: what would be missed without them
	Progress func(night int) // nil: none
}

// Run lives through the nights.
func Run(r Request) (*Report, error) {
	if r.Nights < 7 || r.Faults < 0 || r.Faults > (r.Nights-quietEnds)*3/4 {
		return nil, errors.New("nights: at least a week, and at most three faults in four nights")
	}
	return live(r)
}

// live is Run with as many faults as there are nights for.
func live(r Request) (*Report, error) {
	plan, err := plan()
	if err != nil {
		return nil, err
	}
	y, err := newYear(r, plan)
	if err != nil {
		return nil, err
	}
	for night := range r.Nights {
		y.day(night)
		if r.Progress != nil {
			r.Progress(night + 1)
		}
	}
	return y.report(), nil
}

// plan is the fully cooked belly with the set point of these cooks and a cure of the
// two days that the calendar gives it at least.
func plan() (process.Plan, error) {
	p, err := plans.BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		return p, fmt.Errorf("nights: %w", err)
	}
	p = playback.AnyStage(p)
	for i := range p.Stages {
		if p.Stages[i].Name == process.StageCook {
			p.Stages[i].SetC = cookC
		}
	}
	p.Cure.Days = 2
	return p, nil
}

// A year is the nights under way.
type year struct {
	Request
	*playback.Player
	plan    process.Plan
	shop    *shop
	start   time.Time
	batch   int // number of the open batch
	said    int // number of the newest command
	todo    []deed
	faults  []Fault
	debts   []debt
	course  course          // of the cook under way
	real    map[int64]bool  // alarms that a core does not rise, and whether it is so
	prompt  map[string]bool // lines of the catalogue that are a step to do
	counter counter

	cures, cooks *deck // faults of days without a cook and with one
	due          *kind // will begin when the batch comes to it today
	away         bool  // nobody is there to take the batch off
	forgetful    bool  // nobody turns the slabs
}

// A deed is something that is done to the world or said to the house at a time.
type deed struct {
	at time.Time
	do func(*year)
}

func newYear(r Request, plan process.Plan) (y *year, err error) {
	y = &year{Request: r, plan: plan, start: time.Date(2031, 1, 6, 0, 0, 0, 0, time.UTC), prompt: map[string]bool{}, real: map[int64]bool{}}
	if y.counter, err = newCounter(); err != nil {
		return nil, err
	}
	y.shop = newShop(y.start, r.Seed)
	y.cures, y.cooks = newDeck(y.shop.random, inCure), newDeck(y.shop.random, inCook, atChill, atDose)
	catalogue := slices.DeleteFunc(alerts.Catalogue(alerts.Wood), func(e alerts.Entry) bool { return slices.Contains(r.Without, e.ID) })
	for _, e := range catalogue {
		y.prompt[e.ID] = e.Prompt
	}
	probes, _ := y.shop.placed()
	places := []*process.Place{
		playback.Place(alder, process.WhereFridge, probes, y.start),
		playback.Place(birch, process.WhereFridge, probes, y.start),
		playback.Place(cedar, process.WhereFreezer, probes, y.start),
		playback.Place(kettle, process.WhereSmoker, probes, y.start),
		playback.Place(aunt, process.WhereSmoker, probes, y.start),
	}
	y.Player = playback.New(places, catalogue, alerts.Policy{}, y.start)
	y.Heard = y.judge
	return y, nil
}

// judge compares what is told of a core that does not rise with the core.
func (y *year) judge(h playback.Heard) {
	for _, o := range h.Occurrences {
		if _, known := y.real[o.Number]; !known && o.Entry == "H5" {
			y.real[o.Number] = y.stalls()
		}
	}
}

// day plans a day and lives through it, a minute at a time.
func (y *year) day(n int) {
	midnight := y.start.AddDate(0, 0, n)
	y.planDay(n, midnight)
	for to := midnight.Add(time.Minute); !to.After(midnight.AddDate(0, 0, 1)); to = to.Add(time.Minute) {
		for len(y.todo) > 0 && !y.todo[0].at.After(to) {
			next := y.todo[0]
			y.todo = y.todo[1:]
			y.shop.Advance(next.at)
			next.do(y)
		}
		y.minute(to)
	}
}

func (y *year) minute(to time.Time) {
	for _, r := range y.shop.readings(to) {
		y.Take(process.Input{Kind: process.InputReading, At: r.Received, Reading: r})
	}
	y.follow()
	y.Take(process.Input{Kind: process.InputTick, At: to})
	if y.done() {
		takeOff(y)
	}
}

// do is a deed at a time, after those that were planned for the same time before.
func (y *year) do(at time.Time, do func(*year)) {
	i := len(y.todo)
	for i > 0 && y.todo[i-1].at.After(at) {
		i--
	}
	y.todo = slices.Insert(y.todo, i, deed{at, do})
}

func (y *year) later(d time.Duration, do func(*year)) { y.do(y.Now.Add(d), do) }

// say tells the house what a person did to the open batch.
func (y *year) say(c process.Command) {
	c.Batch = y.batchID()
	y.tell(c)
}

// tell tells the house what is about no batch, or about the one it names.
func (y *year) tell(c process.Command) {
	y.said++
	c.ID, c.By, c.At, c.Typed = fmt.Sprintf("said-%d", y.said), cmp.Or(c.By, "T.V."), y.Now, y.Now
	y.Take(process.Input{Kind: process.InputCommand, At: y.Now, Command: c})
}

// answer is somebody's answer to the alarms of a line that stand.
func (y *year) answer(line string) {
	y.Acknowledge(process.Command{Kind: process.CommandAcknowledge, By: "T.V.", At: y.Now, Typed: y.Now, Text: line})
}

func (y *year) batchID() string { return fmt.Sprintf("OL-%03d", y.batch) }

// current is the open batch of bellies, or nil.
func (y *year) current() *process.Batch {
	for _, b := range y.House.Open() {
		if b.ID == y.batchID() {
			return b
		}
	}
	return nil
}

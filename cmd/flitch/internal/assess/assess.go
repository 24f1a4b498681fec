package assess

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/engine"
)

// batchID is the name the batch of a file goes by in alarms.
const batchID = "file"

// A Request is what is assessed.
type Request struct {
	Plan     process.Plan
	Pieces   []process.Piece
	Readings io.Reader
	Events   io.Reader // nil: none
	Policy   alerts.Policy
	Fuel     alerts.Fuel
}

// Run assesses a file. The error is for a file that cannot be read at all.
func Run(r Request) (*Report, error) {
	rows, left, err := readReadings(r.Readings)
	if err != nil {
		return nil, err
	}
	events, more, err := readEvents(r.Events, r.Plan)
	if err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("readings: no line of the file could be read; the first reason: %s", first(left))
	}
	if begun := saidToBegin(r.Plan, events); begun {
		var early []Left
		rows, early = afterBeginning(rows, events[0].at)
		left = append(left, early...)
		if len(rows) == 0 {
			return nil, fmt.Errorf("readings: all of them are before %s, when the events say that stage %s began", events[0].at.Format(time.RFC3339), events[0].detail)
		}
	}
	run := newRun(r, rows, events)
	run.play(rows, events)
	return run.report(slices.Concat(left, more, run.refused)), nil
}

// saidToBegin reports whether the first event enters the first stage of the plan: then
// the batch begins with it, and not with the first reading.
func saidToBegin(p process.Plan, events []event) bool {
	return len(events) > 0 && events[0].kind == "stage" && events[0].detail == string(p.Stages[0].Name)
}

// afterBeginning drops the readings before the batch began.
func afterBeginning(rows []row, began time.Time) ([]row, []Left) {
	n := 0
	for n < len(rows) && rows[n].reading.Measured.Before(began) {
		n++
	}
	if n == 0 {
		return rows, nil
	}
	return rows[n:], []Left{{"readings", rows[0].line, fmt.Sprintf("this and %d more are before the batch began at %s", n-1, began.Format(time.RFC3339))}}
}

func first(left []Left) string {
	if len(left) == 0 {
		return "it has none"
	}
	return fmt.Sprintf("line %d: %s", left[0].Line, left[0].Why)
}

// A run is one assessment under way.
type run struct {
	house                                      *engine.House
	places                                     []*process.Place
	policy                                     alerts.Policy
	batch                                      *process.Batch // as last seen; the house lets go of it when it is closed
	seq                                        int64
	now                                        time.Time
	alarms                                     map[int64]alerts.Occurrence
	forecasts                                  []Forecast
	forecasted, cookForecasted, cureForecasted time.Time // when they were last made
	cooks                                      process.CookForecasts
	refused                                    []Left
	begun                                      bool // with the first event
	scan                                       scanner
}

func newRun(r Request, rows []row, events []event) *run {
	probes := probesOf(rows, r.Pieces)
	began := rows[0].reading.Measured
	if len(events) > 0 && events[0].at.Before(began) {
		began = events[0].at
	}
	places := []*process.Place{
		process.NewPlace("fridge", process.WhereFridge, probesIn(probes, "fridge"), began),
		process.NewPlace("smoker", process.WhereSmoker, probesIn(probes, "smoker"), began),
	}
	for _, p := range places {
		hearFrom(p, rows)
	}
	s := &run{places: places, house: engine.NewHouse(places, alerts.Catalogue(r.Fuel), r.Policy), policy: r.Policy,
		alarms: map[int64]alerts.Occurrence{}, now: began, scan: newScanner(r.Plan)}
	c := process.Command{ID: "begin", Kind: process.CommandNew, Batch: batchID, By: "file", At: began, Typed: began,
		New: &process.NewBatch{Plan: optional(r.Plan), Pieces: r.Pieces, Probes: probes}}
	s.take(process.Input{Kind: process.InputCommand, At: began, Command: c})
	s.batch = s.house.Open()[0]
	s.begun = saidToBegin(r.Plan, events)
	return s
}

// optional lets a file begin in any stage: a logger may have been put in for the
// cook only.
func optional(p process.Plan) process.Plan {
	p.Stages = slices.Clone(p.Stages)
	for i := range p.Stages {
		p.Stages[i].Optional = true
	}
	return p
}

// play takes readings, events and the minutes between in order of time.
func (s *run) play(rows []row, events []event) {
	for n, e := range events {
		for len(rows) > 0 && rows[0].reading.Measured.Before(e.at) {
			s.reading(rows[0])
			rows = rows[1:]
		}
		s.minutes(e.at)
		s.event(n, e)
	}
	for _, r := range rows {
		s.reading(r)
	}
	s.minutes(s.now.Add(time.Minute))
}

// event takes what a person did. What does not fit the batch at that time is left out,
// and said to be.
func (s *run) event(n int, e event) {
	if n == 0 && s.begun {
		return // the batch began with it
	}
	c, err := e.command(n)
	if err == nil && c.Kind == process.CommandAcknowledge {
		s.acknowledge(c)
		return
	}
	if err == nil {
		err = process.Check(s.batch, c, e.at)
	}
	if err != nil {
		s.refused = append(s.refused, Left{"events", e.line, err.Error()})
		return
	}
	s.take(process.Input{Kind: process.InputCommand, At: e.at, Command: c})
}

// acknowledge answers the alarms that stand open: those of the line of the catalogue
// that was named, or all.
func (s *run) acknowledge(c process.Command) {
	for _, number := range slices.Sorted(maps.Keys(s.alarms)) {
		o := s.alarms[number]
		if !o.AcknowledgedAt.IsZero() || !o.ClearedAt.IsZero() || c.Text != "" && c.Text != o.Entry {
			continue
		}
		c.ID, c.Alarm = fmt.Sprintf("acknowledged-%d", number), number
		s.take(process.Input{Kind: process.InputCommand, At: c.At, Command: c})
	}
}

func (s *run) reading(r row) {
	s.minutes(r.reading.Measured)
	s.take(process.Input{Kind: process.InputReading, At: r.reading.Measured, Reading: r.reading})
	s.scan.reading(r, s.batch)
}

// In a long silence time is told less often, and after a month no more: all that
// it could raise was raised on the first day, and a mistyped year must not take a
// minute for each of its minutes.
const (
	everyMinuteFor = 24 * time.Hour
	everyHourFor   = 30 * 24 * time.Hour
)

// minutes tells the whole minutes up to a time, as the daemon does.
func (s *run) minutes(to time.Time) {
	began, step := s.now, time.Minute
	for next := began.Truncate(step).Add(step); !next.After(to); next = next.Add(step) {
		switch silent := next.Sub(began); {
		case silent > everyHourFor:
			return
		case silent > everyMinuteFor:
			step = time.Hour
		}
		s.take(process.Input{Kind: process.InputTick, At: next})
		s.forecast()
	}
}

func (s *run) take(in process.Input) {
	s.seq++
	in.Seq = s.seq
	s.now = in.At
	s.house.Take(in)
	if in.Kind == process.InputReading {
		return // what it raised is collected with the next minute
	}
	_, occurrences := s.house.Happened()
	for _, o := range occurrences {
		s.alarms[o.Number] = o
	}
}

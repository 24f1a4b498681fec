package assess

import (
	"fmt"
	"io"
	"slices"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/playback"
	"flitch/process"
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
	if saidToBegin(r.Plan, events) {
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
	*playback.Player
	places                                     []*process.Place
	batch                                      *process.Batch // as last seen; the house lets go of it when it is closed
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
		playback.Place("fridge", process.WhereFridge, probes, began),
		playback.Place("smoker", process.WhereSmoker, probes, began),
	}
	for _, p := range places {
		hearFrom(p, rows)
	}
	s := &run{Player: playback.New(places, alerts.Catalogue(r.Fuel), r.Policy, began), places: places, scan: newScanner(r.Plan)}
	s.Ticked = s.forecast
	c := process.Command{ID: "begin", Kind: process.CommandNew, Batch: batchID, By: "file", At: began, Typed: began,
		New: &process.NewBatch{Plan: playback.AnyStage(r.Plan), Pieces: r.Pieces, Probes: probes}}
	s.Take(process.Input{Kind: process.InputCommand, At: began, Command: c})
	s.batch = s.House.Open()[0]
	s.begun = saidToBegin(r.Plan, events)
	return s
}

// play takes readings, events and the minutes between in order of time.
func (s *run) play(rows []row, events []event) {
	for n, e := range events {
		for len(rows) > 0 && rows[0].reading.Measured.Before(e.at) {
			s.reading(rows[0])
			rows = rows[1:]
		}
		s.Minutes(e.at)
		s.event(n, e)
	}
	for _, r := range rows {
		s.reading(r)
	}
	s.Minutes(s.Now.Add(time.Minute))
}

// event takes what a person did. What does not fit the batch at that time is left out,
// and said to be.
func (s *run) event(n int, e event) {
	if n == 0 && s.begun {
		return // the batch began with it
	}
	c, err := e.command(n)
	if err == nil && c.Kind == process.CommandAcknowledge {
		s.Acknowledge(c)
		return
	}
	if err == nil {
		err = process.Check(s.batch, c, e.at)
	}
	if err != nil {
		s.refused = append(s.refused, Left{"events", e.line, err.Error()})
		return
	}
	s.Take(process.Input{Kind: process.InputCommand, At: e.at, Command: c})
}

func (s *run) reading(r row) {
	s.Minutes(r.reading.Measured)
	s.Take(process.Input{Kind: process.InputReading, At: r.reading.Measured, Reading: r.reading})
	s.scan.reading(r, s.batch)
}

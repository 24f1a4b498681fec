package assess

import (
	"errors"
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

	// Dosing reads the detail of a dosed event: what was weighed and asked, and the text
	// that says why it is another than before. Nil: doses are not understood.
	Dosing func(detail string) (*process.Dosing, string, error)

	Policy alerts.Policy
	Fuel   alerts.Fuel
}

// Run assesses a file. The error is for a file that cannot be read at all.
func Run(r Request) (*Report, error) {
	l, err := readReadings(r.Readings)
	if err != nil {
		return nil, err
	}
	said, err := readEvents(r)
	if err != nil {
		return nil, err
	}
	if len(l.rows) == 0 {
		return nil, fmt.Errorf("readings: no line of the file could be read; the first reason: %s", firstOf(l.left))
	}
	if said.begins(r.Plan) {
		l.beginAt(said.events[0].at)
		if len(l.rows) == 0 {
			return nil, fmt.Errorf("readings: all of them are before %s, when the events say that stage %s began", said.events[0].at.Format(time.RFC3339), said.events[0].detail)
		}
	}
	run, err := newRun(r, l, said)
	if err != nil {
		return nil, err
	}
	run.play(l, said.events)
	return run.report(slices.Concat(l.left, said.left, run.refused)), nil
}

func firstOf(left []Left) string {
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
	unsure                                     []string // why no clock can be met
	undosed                                    []string // why the cure cannot be: doses that could not be taken
	begun                                      bool     // with the first event
	unsized                                    bool     // no piece was given
	asked                                      process.Plan
	scan                                       scanner
}

func newRun(r Request, l *logged, said spoken) (*run, error) {
	l.sources.inOrder()
	plan, pieces := sized(r)
	probes := l.probesOf(pieces)
	began := l.from
	if len(said.events) > 0 && said.events[0].at.Before(began) {
		began = said.events[0].at
	}
	places := []*process.Place{
		playback.Place("fridge", process.WhereFridge, probes, began),
		playback.Place("smoker", process.WhereSmoker, probes, began),
	}
	for _, p := range places {
		l.hearFrom(p)
	}
	s := &run{Player: playback.New(places, alerts.Catalogue(r.Fuel), r.Policy, began), places: places, unsure: slices.Concat(l.hidden(), said.lost), undosed: said.undosed, unsized: len(r.Pieces) == 0, asked: r.Plan, scan: newScanner(plan)}
	s.Ticked = s.forecast
	c := process.Command{ID: "begin", Kind: process.CommandNew, Batch: batchID, By: "file", At: began, Typed: began,
		New: &process.NewBatch{Plan: playback.AnyStage(plan), Pieces: pieces, Probes: probes}}
	if err := process.Check(nil, c, began); err != nil {
		return nil, err
	}
	s.Take(process.Input{Kind: process.InputCommand, At: began, Command: c})
	s.batch = s.House.Open()[0]
	s.begun = said.begins(r.Plan)
	return s, nil
}

// play takes readings, events and the minutes between in order of time, to the end of
// what the file tells of.
func (s *run) play(l *logged, events []event) {
	rows := l.rows
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
	s.Minutes(l.to)
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
	switch {
	case err == nil && s.unsized && (c.Kind == process.CommandWeighed || c.Kind == process.CommandDosed):
		err = errors.New(noPiece)
	case err == nil:
		err = process.Check(s.batch, c, e.at)
	}
	if err != nil {
		if e.kind == "stage" {
			s.unsure = append(s.unsure, fmt.Sprintf("line %d of the events begins a stage that does not fit: %v", e.line, err))
		}
		if e.kind == "dosed" {
			s.undosed = append(s.undosed, fmt.Sprintf("line %d of the events tells of a dose that was not taken", e.line))
		}
		s.refused = append(s.refused, Left{"events", e.line, err.Error()})
		return
	}
	c = process.Complete(s.batch, c)
	s.Take(process.Input{Kind: process.InputCommand, At: e.at, Command: c})
}

func (s *run) reading(r row) {
	s.Minutes(r.reading.Measured)
	s.Take(process.Input{Kind: process.InputReading, At: r.reading.Measured, Reading: r.reading})
	s.scan.reading(r, s.batch)
}

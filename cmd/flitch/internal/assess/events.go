package assess

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/plain"
	"flitch/cmd/flitch/internal/readout"
	"flitch/process"
)

// An event is one line of the events file.
type event struct {
	line   int
	at     time.Time
	kind   string
	detail string
	dosing *process.Dosing // of a dosed event
	why    string          // it is another dose than before
}

// The events that are understood.
var eventKinds = []string{"stage", "turned", "dosed", "weighed", "hand-reading", "note", "acknowledged"}

// A spoken is what a person said of the batch.
type spoken struct {
	events  []event // in order of time
	left    []Left
	lost    []string // why nobody can tell in which stage the batch was
	undosed []string // doses that could not be read
}

func readEvents(r Request) (s spoken, err error) {
	if r.Events == nil {
		return s, nil
	}
	s.left, err = table("events", newRecords(r.Events), []string{"time", "event", "detail"}, func(line int, get func(string) string) error {
		e, err := readEvent(line, get, r)
		if err != nil {
			s.lose(line, get("event"))
			return err
		}
		s.events = append(s.events, e)
		return nil
	})
	slices.SortStableFunc(s.events, func(a, b event) int { return a.at.Compare(b.at) })
	return s, err
}

// lose notes a line that could not be read, and may have said that a stage began: what
// the probes tell would then be judged by the limits of another.
func (s *spoken) lose(line int, kind string) {
	if kind == "" || kind == "stage" {
		s.lost = append(s.lost, fmt.Sprintf("line %d of the events may begin a stage and could not be read", line))
	}
	if kind == "" || kind == "dosed" {
		s.undosed = append(s.undosed, fmt.Sprintf("line %d of the events may tell of a dose and could not be read", line))
	}
}

// begins reports whether the first event enters the first stage of the plan: then the
// batch begins with it, and not with the first reading.
func (s *spoken) begins(p process.Plan) bool {
	return len(s.events) > 0 && s.events[0].kind == "stage" && s.events[0].detail == string(p.Stages[0].Name)
}

func readEvent(line int, get func(string) string, r Request) (event, error) {
	at, err := readout.Time(get("time"))
	if err != nil {
		return event{}, err
	}
	e := event{line: line, at: at, kind: get("event"), detail: get("detail")}
	if !slices.Contains(eventKinds, e.kind) {
		return event{}, fmt.Errorf("event %q: one of %s", e.kind, strings.Join(eventKinds, ", "))
	}
	if e.kind == "stage" && !hasStage(r.Plan, e.detail) {
		return event{}, fmt.Errorf("stage %q is not in plan %s", e.detail, r.Plan.Name)
	}
	if e.kind == "dosed" && r.Dosing != nil {
		e.dosing, e.why, err = r.Dosing(e.detail)
		return e, err
	}
	_, err = e.command(0)
	return e, err
}

func hasStage(plan process.Plan, name string) bool {
	return slices.ContainsFunc(plan.Stages, func(s process.StagePlan) bool { return string(s.Name) == name })
}

// command turns an event into what a person would have said. The error says what to
// write.
func (e event) command(n int) (process.Command, error) {
	c := process.Command{ID: fmt.Sprintf("event-%d", n), Batch: batchID, By: "file", At: e.at, Typed: e.at, Text: e.detail}
	var err error
	switch e.kind {
	case "stage":
		c.Kind, c.Stage, c.Text = process.CommandStage, process.StageName(e.detail), ""
	case "turned":
		c.Kind, c.Pieces, c.Text = process.CommandTurned, strings.Fields(e.detail), ""
	case "dosed":
		if c.Kind, c.Dosing, c.Text = process.CommandDosed, e.dosing, e.why; e.dosing == nil {
			err = errors.New("nobody reads doses here")
		}
	case "weighed":
		c.Kind, c.Text = process.CommandWeighed, ""
		c.Pieces, c.Value, err = weighed(e.detail)
	case "hand-reading":
		c.Kind, c.Text = process.CommandReading, ""
		c.Placement, c.Pieces, c.Value, err = handReading(e.detail)
	case "acknowledged":
		c.Kind = process.CommandAcknowledge
	default:
		c.Kind = process.CommandNote
	}
	return c, err
}

// weighed reads "1890g" or "A 1890g".
func weighed(detail string) (pieces []string, weightG float64, err error) {
	words := strings.Fields(detail)
	if len(words) == 0 || len(words) > 2 {
		return nil, 0, fmt.Errorf("detail %q: write the piece and its weight: A 1890g", detail)
	}
	weightG, err = amount(words[len(words)-1], readout.Grams)
	return words[:len(words)-1], weightG, err
}

// handReading reads "core 61.5C", "core A 142F" or "ph 5.2".
func handReading(detail string) (p process.Placement, pieces []string, value float64, err error) {
	words := strings.Fields(detail)
	if len(words) < 2 || len(words) > 3 {
		return "", nil, 0, fmt.Errorf("detail %q: write what was measured and the value: core A 61.5C, or ph 5.2", detail)
	}
	p, pieces = process.Placement(words[0]), words[1:len(words)-1]
	last := words[len(words)-1]
	if p == process.PH {
		value, err = amount(last, map[string]float64{"": 1})
		return p, pieces, value, err
	}
	if number, fahrenheit := strings.CutSuffix(last, "F"); fahrenheit {
		value, err = amount(number, map[string]float64{"": 1})
		return p, pieces, (value - 32) / 1.8, err
	}
	value, err = amount(last, map[string]float64{"C": 1})
	return p, pieces, value, err
}

// amount reads a number with one of the units.
func amount(text string, units map[string]float64) (float64, error) {
	number := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ°")
	v, ok := plain.Number(number)
	factor, known := units[text[len(number):]]
	if !ok || !known {
		return 0, fmt.Errorf("%q: write a number and one of the units %v", text, slices.Sorted(maps.Keys(units)))
	}
	return v * factor, nil
}

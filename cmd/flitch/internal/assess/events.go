package assess

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/process"
)

// An event is one line of the events file.
type event struct {
	line   int
	at     time.Time
	kind   string
	detail string
}

// The events that are understood.
var eventKinds = []string{"stage", "turned", "weighed", "hand-reading", "note", "acknowledged"}

func readEvents(r io.Reader, plan process.Plan) ([]event, []Left, error) {
	if r == nil {
		return nil, nil, nil
	}
	var events []event
	left, err := table("events", r, []string{"time", "event", "detail"}, func(line int, get func(string) string) error {
		at, err := time.Parse(time.RFC3339, get("time"))
		if err != nil {
			return fmt.Errorf("time %q: write 2031-04-07T12:00:00Z", get("time"))
		}
		e := event{line, at.UTC(), get("event"), get("detail")}
		if !slices.Contains(eventKinds, e.kind) {
			return fmt.Errorf("event %q: one of %s", e.kind, strings.Join(eventKinds, ", "))
		}
		if e.kind == "stage" && !hasStage(plan, e.detail) {
			return fmt.Errorf("stage %q is not in plan %s", e.detail, plan.Name)
		}
		if _, err := e.command(0); err != nil {
			return err
		}
		events = append(events, e)
		return nil
	})
	slices.SortStableFunc(events, func(a, b event) int { return a.at.Compare(b.at) })
	return events, left, err
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
func weighed(detail string) (pieces []string, grams float64, err error) {
	words := strings.Fields(detail)
	if len(words) == 0 || len(words) > 2 {
		return nil, 0, fmt.Errorf("detail %q: write the piece and its weight: A 1890g", detail)
	}
	grams, err = amount(words[len(words)-1], map[string]float64{"g": 1, "kg": 1000, "lb": 453.59237, "oz": 453.59237 / 16})
	return words[:len(words)-1], grams, err
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
	v, err := strconv.ParseFloat(number, 64)
	factor, known := units[text[len(number):]]
	if err != nil || !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q: write a number and one of the units %v", text, slices.Sorted(maps.Keys(units)))
	}
	return v * factor, nil
}

package assess

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// An event is one line of the events file.
type event struct {
	at     time.Time
	kind   string
	detail string
}

// The events that are understood. A weighing and an acknowledgement are kept as
// notes: they move no clock.
var eventKinds = []string{"stage", "turned", "weighed", "hand-reading", "note", "acknowledged"}

func readEvents(r io.Reader, plan process.Plan) ([]event, []Left, error) {
	if r == nil {
		return nil, nil, nil
	}
	var events []event
	left, err := table("events", r, []string{"time", "event", "detail"}, func(_ int, get func(string) string) error {
		at, err := time.Parse(time.RFC3339, get("time"))
		if err != nil {
			return fmt.Errorf("time %q: write 2031-04-07T12:00:00Z", get("time"))
		}
		e := event{at.UTC(), get("event"), get("detail")}
		if !slices.Contains(eventKinds, e.kind) {
			return fmt.Errorf("event %q: one of %s", e.kind, strings.Join(eventKinds, ", "))
		}
		if e.kind == "stage" && !hasStage(plan, e.detail) {
			return fmt.Errorf("stage %q is not in plan %s", e.detail, plan.Name)
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

// command turns an event into what a person would have said.
func (e event) command(n int) process.Command {
	c := process.Command{ID: fmt.Sprintf("event-%d", n), Batch: batchID, By: "file", At: e.at, Typed: e.at, Text: e.detail}
	switch e.kind {
	case "stage":
		c.Kind, c.Stage, c.Text = process.CommandStage, process.StageName(e.detail), ""
	case "turned":
		c.Kind = process.CommandTurned
	default:
		c.Kind, c.Text = process.CommandNote, strings.TrimSpace(e.kind+" "+e.detail)
	}
	return c
}

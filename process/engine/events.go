package engine

import (
	"fmt"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// events turns what happened to one alarm into journal lines, the list of
// occurrences, and messages.
func (h *House) events(en alerts.Entry, a *alerts.Alarm, events []alerts.Event) {
	h.pending.alarms[alarmKey{en.ID, a.Subject}] = a
	for _, ev := range events {
		hidden, who := h.plan(en, a, ev)
		line := alarmLine(en, ev, hidden)
		line.Text += who
		h.pending.note(line)
		h.pending.occurrences = append(h.pending.occurrences, ev.Occurrence)
	}
}

// explained reports whether people hear of the entry already: for the subject itself,
// for the batch the subject belongs to, or for the broker all readings come through.
func (b *board) explained(entry, subject string) bool {
	if b.heard(entry, subject) || b.heard(entry, FaultBroker) {
		return true
	}
	_, batch, ok := strings.Cut(subject, "of batch ")
	return ok && b.heard(entry, "batch "+batch)
}

// alarmLine is the journal line of an event. hidden says why nobody was told.
func alarmLine(en alerts.Entry, ev alerts.Event, hidden string) process.JournalLine {
	text := fmt.Sprintf("alarm %d %s %s, %s, %s: %s", ev.Number, en.ID, ev.Kind, ev.Subject, ev.Level, en.Title)
	switch {
	case en.Never != 0 && ev.Value >= en.Never:
		text += " (" + en.SaysNever + ")"
	case en.Unit != "":
		text += fmt.Sprintf(" (%.1f %s, limit %.1f %s)", ev.Value, en.Unit, ev.Limit, en.Unit)
	}
	if ev.Reason != "" {
		text += "; " + ev.Reason
	}
	if hidden != "" {
		text += "; nobody told: " + hidden
	}
	return process.JournalLine{At: ev.At, Batch: batchOf(ev.Subject), Kind: "alarm " + string(ev.Kind), By: by(ev), Text: text}
}

func by(ev alerts.Event) string {
	if ev.Kind == alerts.Acknowledged || ev.Kind == alerts.Withdrawn {
		return ev.By
	}
	return "flitch"
}

// batchOf returns the batch a subject names, or nothing.
func batchOf(subject string) string {
	if _, id, ok := strings.Cut(subject, "batch "); ok {
		return id
	}
	return ""
}

// lineOf is the journal line of a command.
func lineOf(c process.Command) process.JournalLine {
	l := process.JournalLine{At: c.Typed, Batch: c.Batch, Kind: string(c.Kind), By: c.By, Text: commandText(c)}
	if d := c.Typed.Sub(c.At); d > time.Minute || d < -time.Minute {
		l.Text += fmt.Sprintf("; happened at %s, typed %s later", c.At.Format(time.RFC3339), d.Round(time.Minute))
	}
	return l
}

func commandText(c process.Command) string {
	switch c.Kind {
	case process.CommandNew:
		return fmt.Sprintf("batch begun by plan %s version %d (%s), %d pieces", c.New.Plan.Name, c.New.Plan.Version, c.New.Plan.Hash[:12], len(c.New.Pieces))
	case process.CommandStage:
		if c.Text != "" {
			return fmt.Sprintf("stage %s entered all the same: %s", c.Stage, c.Text)
		}
		return "stage " + string(c.Stage) + " entered"
	case process.CommandDosed:
		return dosedText(c)
	case process.CommandTurned:
		if len(c.Pieces) == 0 {
			return "all pieces turned"
		}
		return "turned " + strings.Join(c.Pieces, ", ")
	case process.CommandCounted:
		return strings.TrimSpace(fmt.Sprintf("counted %.0f pieces %s %s", c.Value, c.Way, c.Stage))
	case process.CommandTasted:
		return "tasted: " + c.Taste.Words()
	case process.CommandCost:
		return "cost: " + c.Cost.Words()
	case process.CommandWeighed:
		return weighedText(c)
	case process.CommandReading:
		if c.Placement == process.PH {
			return strings.TrimSpace(fmt.Sprintf("pH %.2f %s", c.Value, c.Text))
		}
		return fmt.Sprintf("hand reading, %s %s: %.1f °C %s", c.Placement, strings.Join(c.Pieces, ", "), c.Value, c.Text)
	case process.CommandClose:
		return strings.TrimSpace("batch closed " + c.Text)
	case process.CommandNote, process.CommandAction, process.CommandDisposition, process.CommandReviewed:
		return paperText(c)
	}
	return c.Text
}

func weighedText(c process.Command) string {
	text := "weighed " + c.Rung.Words()
	if len(c.Weights) == 0 {
		text += fmt.Sprintf(" %s: %.0f g", strings.Join(c.Pieces, ", "), c.Value)
	}
	for _, w := range c.Weights {
		name := w.Piece
		if name == "" {
			name = "all together"
		}
		text += fmt.Sprintf(" %s: %.0f g", name, w.Grams)
	}
	return strings.Join(strings.Fields(text+" "+c.Text), " ")
}

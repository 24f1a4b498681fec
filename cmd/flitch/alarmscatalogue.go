package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
)

// printCatalogue prints the wall chart. Limits are in the unit of each line, and a
// place or a plan may have others.
func printCatalogue(out io.Writer) error {
	for _, e := range alerts.Catalogue(alerts.Wood) {
		fmt.Fprintf(out, "%s  %s\n", e.ID, e.Title)
		for i, t := range e.Triggers {
			fmt.Fprintf(out, "    %d  %s\n", i+1, startOf(e, t))
		}
		fmt.Fprintf(out, "    clears: %s\n    first: %s\n", clearOf(e), e.Action)
		for i, t := range e.Triggers {
			if t.Action != "" && t.Action != e.Action {
				fmt.Fprintf(out, "    first, by %d: %s\n", i+1, t.Action)
			}
		}
		fmt.Fprintf(out, "    asks again: %s\n", againOf(e))
		if len(e.HidesBehind) > 0 {
			fmt.Fprintf(out, "    hides behind: %s\n", strings.Join(e.HidesBehind, ", "))
		}
		if e.FalseAlarms != "" {
			fmt.Fprintf(out, "    has looked like it: %s\n", e.FalseAlarms)
		}
		if _, err := fmt.Fprintf(out, "    source: %s\n\n", e.Source); err != nil {
			return err
		}
	}
	return nil
}

// startOf is one way an alarm starts.
func startOf(e alerts.Entry, t alerts.Trigger) string {
	word := "from"
	if t.Below {
		word = "at or under"
	}
	text := strings.TrimSpace(fmt.Sprintf("%s: %s, %s %.4g %s", t.Level, e.Measure, word, t.Limit, e.Unit))
	if t.For > 0 {
		text += " for " + config.Short(t.For)
	}
	if t.Sum > 0 {
		text += fmt.Sprintf(", or %s in pieces within %s", config.Short(t.Sum), config.Short(t.Window))
	}
	if e.Hour > 0 {
		text += ", looked at once a day at " + clockOf(e.Hour)
	}
	return text
}

// clockOf is a time of day.
func clockOf(sinceMidnight time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(sinceMidnight.Hours()), int(sinceMidnight.Minutes())%60)
}

func clearOf(e alerts.Entry) string {
	switch {
	case e.Clear.Never && e.Clear.ByAck:
		return "when somebody answers"
	case e.Clear.Never:
		return "not by itself"
	}
	text := strings.TrimSpace(fmt.Sprintf("%.4g %s", e.Clear.Limit, e.Unit))
	if e.Clear.For > 0 {
		text += " for " + config.Short(e.Clear.For)
	}
	return text
}

// againOf is how an alarm that stands asks again: while nobody has answered, and after
// somebody did.
func againOf(e alerts.Entry) string {
	if e.Repeat == 0 && e.ReAlarm == 0 {
		return "no"
	}
	var says []string
	switch {
	case e.ThenDaily:
		says = append(says, "after "+config.Short(e.Repeat)+" and then once a day")
	case e.Repeat > 0:
		says = append(says, "each "+config.Short(e.Repeat))
	}
	if e.ReAlarm > 0 && !(e.Clear.Never && e.Clear.ByAck) {
		says = append(says, config.Short(e.ReAlarm)+" after an answer, if it still stands")
	}
	return strings.Join(says, "; ")
}

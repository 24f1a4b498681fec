package main

import (
	"strings"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// backFlags take back what was said of an alarm.
type backFlags struct {
	TakeBack bool   `help:"Take it back: nobody is on it, or it is no longer hidden."`
	Why      string `help:"Why it is taken back; within a minute it may be left out." placeholder:"TEXT"`
}

// takeBack finds what was said of the alarm and strikes it out.
func (b backFlags) takeBack(t terminal, f orderFlags, number int64, said func(web.Alarm) string) error {
	if number == 0 {
		return misuse("the number from flitch alarms", "a shelf is taken back by the number of its alarm")
	}
	d, err := f.daemon(t)
	if err != nil {
		return err
	}
	var list []web.Alarm
	if err := d.get("/api/alarms", &list); err != nil {
		return err
	}
	for _, a := range list {
		if a.Number != number {
			continue
		}
		if id := said(a); id != "" {
			return f.send(t, order{Kind: process.CommandStruck, Strikes: id, Why: strings.TrimSpace(b.Why)})
		}
	}
	return misuse("flitch alarms", "there is nothing of alarm %d to take back", number)
}

// answerOf is the command of the newest answer to an alarm.
func answerOf(a web.Alarm) string {
	if n := len(a.Answers); n > 0 {
		return a.Answers[n-1].ID
	}
	return ""
}

// shelfOf is the command that shelved an alarm.
func shelfOf(a web.Alarm) string {
	if a.Shelf == nil {
		return ""
	}
	return a.Shelf.ID
}

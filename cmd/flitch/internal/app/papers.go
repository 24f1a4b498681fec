package app

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/photo"
	"flitch/process"
	"flitch/process/action"
	"flitch/process/record"
)

// addPapers fills in what was done about deviations, by whom, and who read it. The alarms
// and deviations of the record are there already.
func (r *reader) addPapers(rec *record.Record, b *process.Batch) {
	rec.Held, rec.Reviews = b.Holds(r.app.clock.Now()), b.Reviews
	last, reviewed := b.LastReview()
	after := func(typed time.Time) bool { return reviewed && typed.After(last.Typed) }
	for i, a := range b.Actions {
		rec.Actions = append(rec.Actions, record.Action{Number: i + 1, ActionEntry: a, Lacks: a.Missing(), AfterReview: after(a.Typed)})
	}
	for _, d := range b.Dispositions {
		rec.Dispositions = append(rec.Dispositions, record.Disposition{DispositionEntry: d, AfterReview: after(d.Typed)})
	}
	for i := range rec.Entries {
		rec.Entries[i].AfterReview = after(rec.Entries[i].Typed)
	}
	for i := range rec.Deviations {
		r.decided(&rec.Deviations[i], rec, b)
	}
}

// decided says of a deviation what was done and decided about it, and what is missing.
func (r *reader) decided(d *record.Deviation, rec *record.Record, b *process.Batch) {
	best, whole := []string{"no corrective action"}, false
	for _, a := range rec.Actions {
		if !aboutDeviation(a.About, d.What, rec.Alarms) {
			continue
		}
		d.Actions = append(d.Actions, a.Number)
		whole = whole || len(a.Lacks) == 0
		best = []string{"corrective action without " + strings.Join(a.Lacks, ", ")}
	}
	if whole {
		best = nil
	}
	if e, ok := b.DispositionOf(d.What, r.app.clock.Now()); ok {
		if e.What == process.HoldForAdvice || !slices.Contains(rec.Held, d.What) { // else other pieces are still held
			d.Outcome = string(e.What)
		}
		d.Text = strings.TrimPrefix(d.Text+"; "+e.Why, "; ")
		d.By, d.Typed = e.By, e.Typed
	} else {
		best = append(best, "no disposition")
	}
	d.Open = strings.Join(best, ", ")
}

// aboutDeviation reports whether an action is about a deviation; one about an alarm is by
// the line of the catalogue of that alarm.
func aboutDeviation(about, deviation string, alarms []record.Alarm) bool {
	if i := alarmAt(about, alarms); i >= 0 {
		about = alarms[i].Entry
	}
	return action.Concerns(about, deviation)
}

func alarmAt(about string, alarms []record.Alarm) int {
	return slices.IndexFunc(alarms, func(a record.Alarm) bool { return strconv.FormatInt(a.Number, 10) == about })
}

// addPhotos puts small copies of the photos beside their notes, so that the record stands
// alone. One that cannot be read is told by its hash.
func (r *reader) addPhotos(rec *record.Record) {
	for i := range rec.Entries {
		p := rec.Entries[i].Photo
		if p == nil {
			continue
		}
		kept, found, err := r.app.db.Photo(p.SHA256)
		if err == nil && found {
			p.Small, err = photo.Small(kept)
		}
		if err != nil || !found {
			r.app.log.Error("photo of the record cannot be read", "photo", p.SHA256, "found", found, "err", err)
		}
	}
}

// noteEntry is a note as an entry of the record.
func noteEntry(n process.NoteEntry) record.Entry {
	e := record.Entry{Kind: process.CommandNote, Happened: n.At, Typed: n.Typed, By: n.By, Text: n.Text}
	if n.Photo != nil {
		e.Photo = &record.Photo{Photo: *n.Photo}
	}
	return e
}

// readyText is the text of a corrective action for what it is about, filled in from the
// log: an alarm by its number or its line, a clock, or a dose. It is empty for all else.
func (r *reader) readyText(b *process.Batch, about string, alarms []record.Alarm, site record.Site) process.ActionSaid {
	c := action.Case{Batch: b, About: about, Now: r.app.clock.Now(), Words: site, Readings: r.believed(b)}
	if !b.Closed.IsZero() {
		c.Now = b.Closed
	}
	i := alarmAt(about, alarms)
	if i < 0 {
		i = lastOf(about, alarms)
	}
	switch {
	case i >= 0:
		c.Event = eventOf(alarms[i])
	case b.NamesLine(about): // it did not ring: its numbers are not known
		c.Event = action.Event{Entry: about}
	}
	said, _ := action.Text(c)
	return said
}

// lastOf is the newest alarm of a line of the catalogue; the list is in order of time.
func lastOf(entry string, alarms []record.Alarm) int {
	for i := len(alarms) - 1; i >= 0; i-- {
		if alarms[i].Entry == entry {
			return i
		}
	}
	return -1
}

func eventOf(a record.Alarm) action.Event {
	return action.Event{Entry: a.Entry, Subject: a.Subject, Since: a.Since, Cleared: a.ClearedAt, Worst: a.Worst, Limit: a.Limit}
}

// believed hands over the readings of a probe that count, as they count.
func (r *reader) believed(b *process.Batch) func(string, time.Time, time.Time, func(time.Time, float64)) {
	return func(probe string, from, to time.Time, each func(time.Time, float64)) {
		for _, t := range b.Tracks {
			if t.Probe.Probe != probe {
				continue
			}
			list := flagged(b, t, r.app.engine.Places(), to)
			err := r.app.db.EachReading([]string{probe}, from, to, func(_ int64, m process.Reading) error {
				if row := counted(t, list, m); row.Quality != process.Bad {
					each(row.Measured, row.Value)
				}
				return nil
			})
			if err != nil { // the text keeps its blanks, and a person fills them in
				r.app.log.Error("readings for a ready text", "probe", probe, "err", err)
			}
		}
	}
}

// photoRows are the photos among the readings, by their hashes, so that the fingerprint
// holds them.
func photoRows(b *process.Batch, yield func(record.Row) error) error {
	for _, n := range b.Notes {
		if n.Photo == nil {
			continue
		}
		err := yield(record.Row{Measured: n.At, Received: n.Typed, Batch: b.ID, Placement: "photo", Probe: fmt.Sprintf("hand, %s, sha256 %s", n.By, n.Photo.SHA256),
			Value: float64(n.Photo.Width) * float64(n.Photo.Height), Unit: "pixels", Source: record.Entered})
		if err != nil {
			return err
		}
	}
	return nil
}

// worthAnAction are the alarms about which something is usually done.
func worthAnAction(a record.Alarm) bool {
	return a.Level >= alerts.Tell && slices.ContainsFunc(action.Lines(), func(l action.Line) bool { return slices.Contains(l.Entries, a.Entry) })
}

package engine

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// alarmKey names one alarm: an entry of the catalogue for one subject.
type alarmKey struct{ entry, subject string }

func (k alarmKey) String() string { return k.entry + "|" + k.subject }

// keyOf is the way back.
func keyOf(text string) alarmKey {
	entry, subject, _ := strings.Cut(text, "|")
	return alarmKey{entry, subject}
}

// A board holds every alarm of the house and runs the alarm machine on it.
type board struct {
	entries map[string]alerts.Entry   // by ID
	looking map[string][]alerts.Entry // by measure
	own     map[string]ownEntries     // by place or batch, where they are not the catalogue's
	alarms  map[alarmKey]*alerts.Alarm
	number  int64 // highest given out
}

// newBoard has the alarms of a catalogue; those with an hour have it on the clocks of
// the zone.
func newBoard(catalogue []alerts.Entry, zone *time.Location) *board {
	b := &board{entries: map[string]alerts.Entry{}, looking: map[string][]alerts.Entry{}, own: map[string]ownEntries{}, alarms: map[alarmKey]*alerts.Alarm{}}
	for _, e := range catalogue {
		e.Zone = zone
		b.entries[e.ID] = e
		b.looking[e.Measure] = append(b.looking[e.Measure], e)
	}
	return b
}

// load takes up the stored alarms. One whose entry is no longer in the catalogue
// is left alone.
func (b *board) load(rows map[string][]byte, number int64) error {
	b.number = number
	for key, state := range rows {
		entry, subject, _ := strings.Cut(key, "|")
		a := new(alerts.Alarm)
		if err := json.Unmarshal(state, a); err != nil {
			return fmt.Errorf("engine: stored alarm %s: %w", key, err)
		}
		b.alarms[alarmKey{entry, subject}] = a
	}
	return nil
}

func (b *board) next() int64 {
	b.number++
	return b.number
}

// signal runs the machine of every entry that looks at the finding's measure.
func (b *board) signal(f process.Finding, do func(alerts.Entry, *alerts.Alarm, []alerts.Event)) {
	s := alerts.Signal{Subject: f.Subject, Measure: string(f.Measure), At: f.At, State: state(f.State), Value: f.Value}
	for _, e := range b.looking[s.Measure] {
		key := alarmKey{e.ID, s.Subject}
		e, _ = b.entry(key)
		a := b.alarms[key]
		if a == nil {
			if s.State == alerts.Unknown || s.State == alerts.Over {
				continue
			}
			a = new(alerts.Alarm)
			b.alarms[key] = a
		}
		do(e, a, alerts.Step(e, a, s, b.next))
	}
}

// end ends one alarm.
func (b *board) end(key alarmKey, now time.Time, do func(alerts.Entry, *alerts.Alarm, []alerts.Event)) {
	e, _ := b.entry(key)
	a := b.alarms[key]
	do(e, a, alerts.Step(e, a, alerts.Signal{Subject: key.subject, Measure: e.Measure, At: now, State: alerts.Over}, b.next))
}

func state(s process.State) alerts.State {
	switch s {
	case process.Known:
		return alerts.Known
	case process.Unknown:
		return alerts.Unknown
	case process.Falling:
		return alerts.Falling
	}
	return alerts.Over
}

// tick lets every alarm that is not normal see that time has passed.
func (b *board) tick(now time.Time, do func(alerts.Entry, *alerts.Alarm, []alerts.Event)) {
	var keys []alarmKey
	for key, a := range b.alarms {
		if _, ok := b.entries[key.entry]; ok && a.State() != alerts.Normal {
			keys = append(keys, key)
		}
	}
	slices.SortFunc(keys, func(a, b alarmKey) int { return strings.Compare(a.String(), b.String()) })
	for _, key := range keys {
		a := b.alarms[key]
		e, _ := b.entry(key)
		do(e, a, alerts.Tick(e, a, now))
	}
}

// find returns the active alarm with the number.
func (b *board) find(number int64) (alerts.Entry, *alerts.Alarm, bool) {
	for key, a := range b.alarms {
		if a.Latest.Number == number && a.Latest.Active {
			e, ok := b.entry(key)
			return e, a, ok
		}
	}
	return alerts.Entry{}, nil, false
}

// heard reports whether the entry is raised for the subject and not on a shelf: there
// it tells nobody, and what it would explain has to speak for itself.
func (b *board) heard(entry, subject string) bool {
	a := b.alarms[alarmKey{entry, subject}]
	return a != nil && a.Latest.Active && a.Shelf.Until.IsZero()
}

// count groups the alarms for the metrics.
func (b *board) count() map[AlarmCount]int {
	counts := map[AlarmCount]int{}
	for _, a := range b.alarms {
		s := a.State()
		if s == alerts.Normal {
			continue
		}
		word := string(s)
		if s == alerts.Active && !a.Latest.AcknowledgedAt.IsZero() {
			word = "acknowledged"
		}
		counts[AlarmCount{a.Latest.Level, word}]++
	}
	return counts
}

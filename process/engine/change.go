package engine

import (
	"encoding/json"
	"fmt"

	"flitch/alerts"
	"flitch/process"
)

// A change is all that a run of inputs brought about: it is written in one
// transaction or not at all, and tried again unchanged until it is.
type change struct {
	cursor      int64
	journal     []process.JournalLine
	occurrences []alerts.Occurrence
	messages    []alerts.Message
	batches     map[string]*process.Batch
	places      map[string]*process.Place
	alarms      map[alarmKey]*alerts.Alarm
	people      bool // the people's side has changed
	judged      []alerts.Judgement
}

func newChange(cursor int64) *change {
	return &change{cursor: cursor, batches: map[string]*process.Batch{},
		places: map[string]*process.Place{}, alarms: map[alarmKey]*alerts.Alarm{}}
}

// loud reports whether something happened that a person may hear of.
func (c *change) loud() bool {
	return len(c.journal)+len(c.messages)+len(c.occurrences) > 0
}

func (c *change) empty() bool {
	return !c.loud() && len(c.batches)+len(c.places)+len(c.alarms) == 0 && !c.people
}

func (c *change) note(l process.JournalLine) { c.journal = append(c.journal, l) }

// write stores the change.
func (c *change) write(tx Tx) error {
	for _, save := range []func(Tx) error{c.writeBatches, c.writePlaces, c.writeAlarms, c.writeLog} {
		if err := save(tx); err != nil {
			return err
		}
	}
	return nil
}

func (c *change) writeBatches(tx Tx) error {
	for id, b := range c.batches {
		state, err := json.Marshal(b)
		if err != nil {
			return fmt.Errorf("engine: state of batch %s: %w", id, err)
		}
		row := BatchRow{ID: id, Open: b.Open(), Started: b.Started, Cursor: c.cursor, State: state}
		if err := tx.SaveBatch(row); err != nil {
			return err
		}
	}
	return nil
}

func (c *change) writePlaces(tx Tx) error {
	for name, p := range c.places {
		state, err := json.Marshal(p)
		if err != nil {
			return fmt.Errorf("engine: state of place %s: %w", name, err)
		}
		if err := tx.SavePlace(name, c.cursor, state); err != nil {
			return err
		}
	}
	return nil
}

func (c *change) writeAlarms(tx Tx) error {
	for key, a := range c.alarms {
		state, err := json.Marshal(a)
		if err != nil {
			return fmt.Errorf("engine: state of alarm %s: %w", key, err)
		}
		if err := tx.SaveAlarm(key.String(), state); err != nil {
			return err
		}
	}
	return nil
}

func (c *change) writeLog(tx Tx) error {
	for _, l := range c.journal {
		if err := tx.AppendJournal(l); err != nil {
			return err
		}
	}
	for _, o := range c.occurrences {
		if err := tx.SaveOccurrence(o); err != nil {
			return err
		}
	}
	for _, m := range c.messages {
		if err := tx.Enqueue(m); err != nil {
			return err
		}
	}
	return nil
}

package store

import (
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"flitch/alerts"
)

// SaveAlarm adds the state of one alarm machine or replaces it.
func (tx *Tx) SaveAlarm(key string, state []byte) error {
	return tx.exec("save alarm "+key, `INSERT INTO alarms (key, state) VALUES (?, ?)
		ON CONFLICT (key) DO UPDATE SET state = excluded.state`, key, opaque(state))
}

// Alarms returns the state of every alarm machine by its key.
func (db *DB) Alarms() (map[string][]byte, error) {
	states := map[string][]byte{}
	err := db.each("alarms", func(rows *sql.Rows) error {
		var key string
		var state []byte
		if err := rows.Scan(&key, &state); err != nil {
			return fmt.Errorf("store: alarms: %w", err)
		}
		states[key] = state
		return nil
	}, "SELECT key, state FROM alarms")
	return states, err
}

// SaveOccurrence adds the occurrence or replaces what was saved under its number.
func (tx *Tx) SaveOccurrence(o alerts.Occurrence) error {
	answers, err := json.Marshal(o.Answers)
	if err != nil {
		return fmt.Errorf("store: answers to alarm %d: %w", o.Number, err)
	}
	return tx.exec(fmt.Sprintf("save occurrence %d", o.Number), `INSERT INTO occurrences
		(number, entry, title, subject, unit, level, since, raised, cleared, acknowledged, acknowledged_by,
			value, worst, threshold, answers, active) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (number) DO UPDATE SET entry = excluded.entry, title = excluded.title,
			subject = excluded.subject, unit = excluded.unit, level = excluded.level, since = excluded.since,
			raised = excluded.raised, cleared = excluded.cleared, acknowledged = excluded.acknowledged,
			acknowledged_by = excluded.acknowledged_by, value = excluded.value, worst = excluded.worst,
			threshold = excluded.threshold, answers = excluded.answers, active = excluded.active`,
		o.Number, o.Entry, o.Title, o.Subject, o.Unit, int64(o.Level), optionalMilli(o.Since), optionalMilli(o.RaisedAt),
		optionalMilli(o.ClearedAt), optionalMilli(o.AcknowledgedAt), o.AcknowledgedBy,
		o.Value, o.Worst, o.Limit, string(answers), o.Active)
}

// LastAlarmNumber returns the highest number an alarm or a message about one ever
// had; zero if there was none.
func (db *DB) LastAlarmNumber() (int64, error) {
	var last int64
	err := db.reader.QueryRowContext(background, `SELECT max(coalesce((SELECT max(number) FROM occurrences), 0),
		coalesce((SELECT max(alarm) FROM messages), 0))`).Scan(&last)
	if err != nil {
		return 0, fmt.Errorf("store: last alarm number: %w", err)
	}
	return last, nil
}

// An OccurrenceFilter chooses occurrences; its zero value chooses all.
type OccurrenceFilter struct {
	Number   int64     // that one only
	Active   bool      // only those not yet cleared
	Subject  string    // only those about exactly this
	From, To time.Time // only those that stood at some time in [From, To)
	Limit    int       // at most so many, the newest
}

// where returns the condition and its arguments.
func (f OccurrenceFilter) where() (string, []any) {
	conditions, args := []string{"1"}, []any{}
	add := func(condition string, arg any) {
		conditions, args = append(conditions, condition), append(args, arg)
	}
	if f.Number != 0 {
		add("number = ?", f.Number)
	}
	if f.Active {
		conditions = append(conditions, "active = 1")
	}
	if f.Subject != "" {
		add("subject = ?", f.Subject)
	}
	if !f.From.IsZero() {
		add("coalesce(cleared, ?) >= ?", int64(math.MaxInt64))
		args = append(args, f.From.UnixMilli())
	}
	if !f.To.IsZero() {
		add("raised < ?", f.To.UnixMilli())
	}
	return strings.Join(conditions, " AND "), args
}

// Occurrences returns the occurrences that f chooses, the newest first.
func (db *DB) Occurrences(f OccurrenceFilter) ([]alerts.Occurrence, error) {
	where, args := f.where()
	limit := -1 // none, to SQLite
	if f.Limit > 0 {
		limit = f.Limit
	}
	return list(db, "occurrences", scanOccurrence, `SELECT number, entry, title, subject, unit, level, since, raised,
		cleared, acknowledged, acknowledged_by, value, worst, threshold, answers, active
		FROM occurrences WHERE `+where+` ORDER BY number DESC LIMIT ?`, append(args, limit)...)
}

func scanOccurrence(rows *sql.Rows) (o alerts.Occurrence, err error) {
	var answers string
	err = rows.Scan(&o.Number, &o.Entry, &o.Title, &o.Subject, &o.Unit, &o.Level, intoTime{&o.Since}, intoTime{&o.RaisedAt},
		intoTime{&o.ClearedAt}, intoTime{&o.AcknowledgedAt}, &o.AcknowledgedBy,
		intoReal{&o.Value}, intoReal{&o.Worst}, intoReal{&o.Limit}, &answers, &o.Active)
	if err == nil {
		err = json.Unmarshal([]byte(answers), &o.Answers)
	}
	return o, err
}

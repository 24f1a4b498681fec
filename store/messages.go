package store

import (
	"database/sql"
	"fmt"
	"time"

	"flitch/alerts"
)

// MessageStatus says what became of a message.
type MessageStatus string

// What can become of a message.
const (
	MessagePending   MessageStatus = "pending"
	MessageDelivered MessageStatus = MessageStatus(alerts.Delivered)
	MessageFailed    MessageStatus = MessageStatus(alerts.Failed)
)

// A MessageRecord is a message with all that was done to send it, for the record.
type MessageRecord struct {
	alerts.Message
	Status   MessageStatus
	Attempts []Attempt // in order
}

// An Attempt is one try to send a message.
type Attempt struct {
	Began   time.Time
	Ended   time.Time      // zero: flitch stopped meanwhile, nobody knows
	Outcome alerts.Outcome // empty while it has no end
	Receipt string         // what the other side answered
	Error   string
}

// MessagesOf returns every message about the alarm of that number, in the order
// they were stored.
func (db *DB) MessagesOf(alarm int64) ([]MessageRecord, error) {
	return db.MessagesBetween(alarm, alarm)
}

// MessagesBetween returns every message about the alarms of these numbers, first and
// last included, in the order they were stored.
func (db *DB) MessagesBetween(first, last int64) ([]MessageRecord, error) {
	var all []MessageRecord
	err := db.each("messages of alarm", func(rows *sql.Rows) error {
		var m MessageRecord
		var a Attempt
		var attempt sql.NullInt64
		var outcome, receipt, failure sql.NullString
		dest := append(messageDest(&m.Message), &m.Status, &attempt, intoTime{&a.Began}, intoTime{&a.Ended}, &outcome, &receipt, &failure)
		if err := rows.Scan(dest...); err != nil {
			return fmt.Errorf("store: messages of alarms %d to %d: %w", first, last, err)
		}
		if len(all) == 0 || all[len(all)-1].ID != m.ID {
			all = append(all, m)
		}
		if attempt.Valid {
			a.Outcome, a.Receipt, a.Error = alerts.Outcome(outcome.String), receipt.String, failure.String
			last := &all[len(all)-1]
			last.Attempts = append(last.Attempts, a)
		}
		return nil
	}, `SELECT `+messageColumns+`, m.status, a.id, a.began, a.ended, a.outcome, a.receipt, a.error
		FROM messages m LEFT JOIN attempts a ON a.message = m.id WHERE m.alarm BETWEEN ? AND ? ORDER BY m.id, a.id`, first, last)
	return all, err
}

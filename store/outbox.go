package store

import (
	"database/sql"
	"fmt"
	"time"

	"flitch/alerts"
)

// Enqueue stores m to be sent at m.Due and returns its number. m.ID is not looked
// at.
func (tx *Tx) Enqueue(m alerts.Message) (id int64, err error) {
	return tx.insert("enqueue message", `INSERT INTO messages
		(alarm, kind, entry, level, channel, subject, body, due, next_at, status)
		VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?8, 'pending')`,
		m.Alarm, string(m.Kind), m.Entry, int64(m.Level), m.Channel, m.Subject, m.Body, m.Due.UnixMilli())
}

// Alike returns the messages that say the same as m, on whatever channel, in the order they
// were stored: of the same event of an alarm, and where there is none, of the same words.
func (tx *Tx) Alike(m alerts.Message) (all []alerts.Message, err error) {
	rows, err := tx.tx.QueryContext(background, `SELECT `+messageColumns+` FROM messages m
		WHERE m.alarm = ?1 AND m.kind = ?2 AND m.due = ?3 AND (m.alarm <> 0 OR m.subject = ?4) ORDER BY m.id`,
		m.Alarm, string(m.Kind), m.Due.UnixMilli(), m.Subject)
	if err != nil {
		return nil, fmt.Errorf("store: messages alike: %w", err)
	}
	err = eachOf(rows, "messages alike", func(rows *sql.Rows) error {
		var one alerts.Message
		if err := rows.Scan(messageDest(&one)...); err != nil {
			return fmt.Errorf("store: messages alike: %w", err)
		}
		all = append(all, one)
		return nil
	})
	return all, err
}

const messageColumns = "m.id, m.alarm, m.kind, m.entry, m.level, m.channel, m.subject, m.body, m.due"

func messageDest(m *alerts.Message) []any {
	return []any{&m.ID, &m.Alarm, &m.Kind, &m.Entry, &m.Level, &m.Channel, &m.Subject, &m.Body, intoTime{&m.Due}}
}

// DueMessages returns at most limit messages of channel that may be sent at now,
// in the order (due, number).
func (db *DB) DueMessages(channel string, now time.Time, limit int) ([]alerts.QueuedMessage, error) {
	return list(db, "due messages", func(rows *sql.Rows) (q alerts.QueuedMessage, err error) {
		err = rows.Scan(append(messageDest(&q.Message), &q.Attempts, &q.Unfinished)...)
		return q, err
	}, `SELECT `+messageColumns+`, (SELECT count(*) FROM attempts a WHERE a.message = m.id),
		EXISTS (SELECT 1 FROM attempts a WHERE a.message = m.id AND (a.ended IS NULL OR a.receipt = ?))
		FROM messages m WHERE m.channel = ? AND m.status = 'pending' AND m.next_at <= ?
		ORDER BY m.due, m.id LIMIT ?`, alerts.MayHaveCome, channel, now.UnixMilli(), limit)
}

// Stranded returns the messages that wait for none of these channels, in the order (due, number).
func (db *DB) Stranded(channels []string) ([]alerts.Message, error) {
	args := make([]any, len(channels))
	for i, name := range channels {
		args[i] = name
	}
	return list(db, "stranded messages", func(rows *sql.Rows) (m alerts.Message, err error) {
		err = rows.Scan(messageDest(&m)...)
		return m, err
	}, `SELECT `+messageColumns+` FROM messages m WHERE m.status = 'pending' AND m.channel NOT IN `+several(len(channels))+` ORDER BY m.due, m.id`, args...)
}

// NextDue returns when a message of channel may next be sent; false if none waits.
func (db *DB) NextDue(channel string) (time.Time, bool, error) {
	return db.earliestOf("next due", "SELECT min(next_at) FROM messages WHERE channel = ? AND status = 'pending'", channel)
}

// OldestDue returns when the message that has waited longest at now was due, over
// all channels; false if none is due. It says how far behind delivery is.
func (db *DB) OldestDue(now time.Time) (time.Time, bool, error) {
	return db.earliestOf("oldest due", "SELECT min(due) FROM messages WHERE status = 'pending' AND due <= ?", now.UnixMilli())
}

func (db *DB) earliestOf(doing, query string, arg any) (time.Time, bool, error) {
	var at time.Time
	if err := db.reader.QueryRowContext(background, query, arg).Scan(intoTime{&at}); err != nil {
		return time.Time{}, false, fmt.Errorf("store: %s: %w", doing, err)
	}
	return at, !at.IsZero(), nil
}

// BeginAttempt stores that the message is about to be sent. It is called before
// the first byte goes out, so that a crash in between leaves an attempt without an
// end. A message that is not waiting is an error: it must not be sent.
func (db *DB) BeginAttempt(message int64, at time.Time) error {
	return db.Update(func(tx *Tx) error {
		status, err := tx.messageStatus(message)
		if err != nil {
			return err
		}
		if status != MessagePending {
			return fmt.Errorf("store: begin attempt: message %d is already %s", message, status)
		}
		return tx.exec("begin attempt", `INSERT INTO attempts (message, began, outcome, receipt, error)
			VALUES (?, ?, '', '', '')`, message, at.UnixMilli())
	})
}

// Settle stores how the last attempt to send a message ended. One that was never
// begun (the message was given up, or merged into another) is added whole. A
// message that was delivered or has failed stays so, whatever comes later.
func (db *DB) Settle(s alerts.Settlement) error {
	return db.Update(func(tx *Tx) error { return tx.Settle(s) })
}

// Settle is DB.Settle within the transaction.
func (tx *Tx) Settle(s alerts.Settlement) error {
	if _, err := tx.messageStatus(s.Message); err != nil {
		return err
	}
	if err := tx.endAttempt(s); err != nil {
		return err
	}
	status, nextAt := MessagePending, s.NextAt
	switch s.Outcome {
	case alerts.Delivered, alerts.Failed:
		status, nextAt = MessageStatus(s.Outcome), s.At
	}
	return tx.exec("settle message", `UPDATE messages SET status = ?, next_at = max(due, ?)
		WHERE id = ? AND status = 'pending'`, string(status), nextAt.UnixMilli(), s.Message)
}

// Hurry makes all messages of a channel due that wait for another attempt.
func (db *DB) Hurry(channel string, at time.Time) error {
	return db.Update(func(tx *Tx) error {
		return tx.exec("hurry messages", `UPDATE messages SET next_at = ?1 WHERE channel = ?2 AND status = 'pending'
			AND next_at > ?1 AND due <= ?1`, at.UnixMilli(), channel)
	})
}

// endAttempt closes the newest attempt; older ones that are open stay open, for
// nobody will ever know.
func (tx *Tx) endAttempt(s alerts.Settlement) error {
	var attempt sql.NullInt64
	err := tx.tx.QueryRowContext(background, `SELECT max(id) FROM attempts WHERE message = ?1 AND ended IS NULL
		AND id = (SELECT max(id) FROM attempts WHERE message = ?1)`, s.Message).Scan(&attempt)
	if err != nil {
		return fmt.Errorf("store: settle message %d: %w", s.Message, err)
	}
	if !attempt.Valid {
		return tx.exec("settle message", `INSERT INTO attempts (message, began, ended, outcome, receipt, error)
			VALUES (?1, ?2, ?2, ?3, ?4, ?5)`, s.Message, s.At.UnixMilli(), string(s.Outcome), s.Receipt, s.Error)
	}
	return tx.exec("settle message", "UPDATE attempts SET ended = ?, outcome = ?, receipt = ?, error = ? WHERE id = ?",
		s.At.UnixMilli(), string(s.Outcome), s.Receipt, s.Error, attempt.Int64)
}

func (tx *Tx) messageStatus(id int64) (status MessageStatus, err error) {
	err = tx.tx.QueryRowContext(background, "SELECT status FROM messages WHERE id = ?", id).Scan(&status)
	if err != nil {
		return "", fmt.Errorf("store: message %d: %w", id, err)
	}
	return status, nil
}

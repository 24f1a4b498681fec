package store

import (
	"database/sql"
	"errors"
	"fmt"
	"time"

	"flitch/alerts"
)

// A Phone is one browser that asked to be rung by web push.
type Phone struct {
	ID       int64
	Channel  string // name of the channel in the configuration
	Person   string // initials of whose phone it is
	Name     string // of the phone, as typed
	Endpoint string // address at the push service
	Public   []byte // key of the browser: a point on P-256, 65 bytes
	Secret   []byte // shared with the browser, 16 bytes
	Added    time.Time
	Ended    time.Time // zero: it rings
	Why      string    // it ended
}

const phoneColumns = "id, channel, person, name, endpoint, public, secret, added, ended, why"

func scanPhone(rows *sql.Rows) (p Phone, err error) {
	err = rows.Scan(&p.ID, &p.Channel, &p.Person, &p.Name, &p.Endpoint, &p.Public, &p.Secret, intoTime{&p.Added}, intoTime{&p.Ended}, &p.Why)
	return p, err
}

// Phones returns all phones that are on the list, in the order they came.
func (db *DB) Phones() ([]Phone, error) {
	return list(db, "phones", scanPhone, "SELECT "+phoneColumns+" FROM phones ORDER BY id")
}

// PhonesOf returns the numbers of the phones of a channel that ring.
func (tx *Tx) PhonesOf(channel string) (ids []int64, err error) {
	return tx.numbers("phones of "+channel, "SELECT id FROM phones WHERE channel = ? AND ended IS NULL ORDER BY id", channel)
}

// numbers returns the one column of a query.
func (tx *Tx) numbers(doing, query string, arg any) (ids []int64, err error) {
	rows, err := tx.tx.QueryContext(background, query, arg)
	if err != nil {
		return nil, fmt.Errorf("store: %s: %w", doing, err)
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		if err := rows.Scan(&id); err != nil {
			return nil, fmt.Errorf("store: %s: %w", doing, err)
		}
		ids = append(ids, id)
	}
	return ids, rows.Err()
}

// AddPhone puts a phone on the list and returns its number. A browser that is on
// it already keeps its number and rings again. ID, Ended and Why are not looked at.
func (tx *Tx) AddPhone(p Phone) (id int64, err error) {
	row := tx.tx.QueryRowContext(background, `INSERT INTO phones (channel, person, name, endpoint, public, secret, added, ended, why)
		VALUES (?, ?, ?, ?, ?, ?, ?, NULL, '')
		ON CONFLICT (channel, endpoint) DO UPDATE SET person = excluded.person, name = excluded.name, public = excluded.public,
			secret = excluded.secret, added = excluded.added, ended = NULL, why = '' RETURNING id`,
		p.Channel, p.Person, p.Name, p.Endpoint, p.Public, p.Secret, p.Added.UnixMilli())
	if err := row.Scan(&id); err != nil {
		return 0, fmt.Errorf("store: add phone: %w", err)
	}
	return id, nil
}

// RenewPhone gives a phone another subscription, and lets it ring again. A browser changes
// its own now and then; the phone keeps its number, its person and its name.
func (tx *Tx) RenewPhone(id int64, endpoint string, public, secret []byte) error {
	return tx.exec(fmt.Sprintf("renew phone %d", id), "UPDATE phones SET endpoint = ?, public = ?, secret = ?, ended = NULL, why = '' WHERE id = ?",
		endpoint, public, secret, id)
}

// EndPhone notes that a phone rings no more, and why. It returns false when that
// is known already, or the phone is not on the list.
func (tx *Tx) EndPhone(id int64, at time.Time, why string) (ended bool, err error) {
	res, err := tx.tx.ExecContext(background, "UPDATE phones SET ended = ?, why = ? WHERE id = ? AND ended IS NULL", at.UnixMilli(), why, id)
	if err != nil {
		return false, fmt.Errorf("store: end phone %d: %w", id, err)
	}
	n, err := res.RowsAffected()
	return n > 0, err
}

// RemovePhone takes a phone off the list and gives up what waits for it on that
// channel of the outbox. It returns the phone, false when it is not on the list.
func (tx *Tx) RemovePhone(id int64, lane string, at time.Time) (p Phone, found bool, err error) {
	row := tx.tx.QueryRowContext(background, "DELETE FROM phones WHERE id = ? RETURNING channel, person, name", id)
	err = row.Scan(&p.Channel, &p.Person, &p.Name)
	if errors.Is(err, sql.ErrNoRows) {
		return Phone{}, false, nil
	}
	if err != nil {
		return Phone{}, false, fmt.Errorf("store: remove phone %d: %w", id, err)
	}
	p.ID = id
	return p, true, tx.giveUp(lane, at, "the phone was taken off the list")
}

// giveUp settles every waiting message of a channel as failed.
func (tx *Tx) giveUp(channel string, at time.Time, why string) error {
	waiting, err := tx.numbers("messages of "+channel, "SELECT id FROM messages WHERE channel = ? AND status = 'pending'", channel)
	if err != nil {
		return err
	}
	for _, id := range waiting {
		if err := tx.Settle(alerts.Settlement{Message: id, Outcome: alerts.Failed, At: at, Error: why}); err != nil {
			return err
		}
	}
	return nil
}

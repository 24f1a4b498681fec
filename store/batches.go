package store

import (
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// A BatchRow is one batch: what lists need, how far into the log it has been
// stepped, and its state.
type BatchRow struct {
	ID      string
	Status  string
	Started time.Time
	Cursor  int64  // number of the last input that was stepped
	State   []byte // opaque here
}

// A PlaceRow is the same of a place, which has no end.
type PlaceRow struct {
	Name   string
	Cursor int64
	State  []byte
}

// SaveBatch adds the batch or replaces what was saved of it.
func (tx *Tx) SaveBatch(b BatchRow) error {
	return tx.exec("save batch "+b.ID, `INSERT INTO batches (id, status, started, cursor, state) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET status = excluded.status, started = excluded.started,
			cursor = excluded.cursor, state = excluded.state`,
		b.ID, b.Status, optionalMilli(b.Started), b.Cursor, opaque(b.State))
}

// SavePlace adds the place or replaces what was saved of it.
func (tx *Tx) SavePlace(name string, cursor int64, state []byte) error {
	return tx.exec("save place "+name, `INSERT INTO places (name, cursor, state) VALUES (?, ?, ?)
		ON CONFLICT (name) DO UPDATE SET cursor = excluded.cursor, state = excluded.state`,
		name, cursor, opaque(state))
}

// opaque is state, never nil: the driver would write that as NULL.
func opaque(state []byte) []byte {
	if state == nil {
		return []byte{}
	}
	return state
}

const batchQuery = "SELECT id, status, started, cursor, state FROM batches"

// Batches returns every batch, the oldest first: of years, with 100 KB of state each. EachBatch has
// one at a time.
func (db *DB) Batches() (all []BatchRow, err error) {
	err = db.EachBatch("", func(b BatchRow) error { all = append(all, b); return nil })
	return all, err
}

// EachBatch calls fn for every batch of a status, the oldest first; empty: of any. It stops at fn's
// first error and returns it as it is.
func (db *DB) EachBatch(status string, fn func(BatchRow) error) error {
	return db.each("batches", func(rows *sql.Rows) error {
		b, err := scanBatch(rows.Scan)
		if err != nil {
			return fmt.Errorf("store: batches: %w", err)
		}
		return fn(b)
	}, batchQuery+" WHERE ?1 = '' OR status = ?1 ORDER BY started, id", status)
}

// A BatchHead is a batch without its state.
type BatchHead struct {
	ID, Status string
	Cursor     int64 // as of which the state is
	Size       int64 // of the state, bytes
}

// BatchHeads returns the heads of all batches, the oldest first.
func (db *DB) BatchHeads() ([]BatchHead, error) {
	return list(db, "batches", func(rows *sql.Rows) (b BatchHead, err error) {
		err = rows.Scan(&b.ID, &b.Status, &b.Cursor, &b.Size)
		return b, err
	}, "SELECT id, status, cursor, octet_length(state) FROM batches ORDER BY started, id")
}

// BatchesThrough is the number up to which every batch that was begun is among Batches: anything
// that is stored was evaluated up to it.
func (db *DB) BatchesThrough() (through int64, err error) {
	const query = "SELECT max(coalesce((SELECT max(cursor) FROM batches), 0), coalesce((SELECT max(cursor) FROM places), 0))"
	if err = db.reader.QueryRowContext(background, query).Scan(&through); err != nil {
		return 0, fmt.Errorf("store: batches through: %w", err)
	}
	return through, nil
}

// Batch returns one batch; false if there is none of that name.
func (db *DB) Batch(id string) (BatchRow, bool, error) {
	b, err := scanBatch(db.reader.QueryRowContext(background, batchQuery+" WHERE id = ?", id).Scan)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return BatchRow{}, false, nil
	case err != nil:
		return BatchRow{}, false, fmt.Errorf("store: batch %s: %w", id, err)
	}
	return b, true, nil
}

func scanBatch(scan func(...any) error) (b BatchRow, err error) {
	err = scan(&b.ID, &b.Status, intoTime{&b.Started}, &b.Cursor, &b.State)
	return b, err
}

// Places returns every place, by name.
func (db *DB) Places() ([]PlaceRow, error) {
	return list(db, "places", func(rows *sql.Rows) (p PlaceRow, err error) {
		err = rows.Scan(&p.Name, &p.Cursor, &p.State)
		return p, err
	}, "SELECT name, cursor, state FROM places ORDER BY name")
}

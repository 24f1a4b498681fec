package store

import (
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"time"
)

// ErrReadOnly is returned by every method that writes, on a database opened with
// OpenReadOnly.
var ErrReadOnly = errors.New("store: the database is open for reading only")

// A Tx is one transaction of the writer. It is valid until the function it was
// given to returns.
type Tx struct {
	db      *DB
	tx      *sql.Tx
	seq, at int64            // as in DB, with what this transaction has given out
	probes  map[string]int64 // interned by this transaction
	head    *journalHead     // last line of the journal, once it was needed

	nowPacked map[int64]int64 // as packed of DB, by this transaction
}

// Update runs fn in one transaction. All of it is on disk when Update returns nil;
// none of it if fn returns an error or panics, or if the commit fails. The methods
// of DB see the state before the transaction until then. Calling Update or
// CommitIntake inside fn blocks for ever.
func (db *DB) Update(fn func(*Tx) error) error {
	if db.readOnly {
		return ErrReadOnly
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	began := time.Now()
	db.writing.Store(&began)
	err := db.noticed(db.transact(fn))
	db.writing.Store(nil)
	if db.observe != nil {
		db.observe(time.Since(began), err)
	}
	return err
}

// transact keeps the counter and the probe cache in step with the file: they
// change only after the commit.
func (db *DB) transact(fn func(*Tx) error) error {
	sqlTx, err := db.writer.BeginTx(background, nil)
	if err != nil {
		return fmt.Errorf("store: begin: %w", err)
	}
	defer sqlTx.Rollback() // no effect after a commit; also on panic
	tx := &Tx{db: db, tx: sqlTx, seq: db.seq, at: db.at}
	if err := fn(tx); err != nil {
		return err
	}
	if err := sqlTx.Commit(); err != nil {
		return fmt.Errorf("store: commit: %w", err)
	}
	db.seq, db.at = tx.seq, tx.at
	maps.Copy(db.probes, tx.probes)
	tx.committed()
	return nil
}

// exec runs one statement; doing says what for, for the error.
func (tx *Tx) exec(doing, query string, args ...any) error {
	_, err := tx.tx.ExecContext(background, query, args...)
	if err != nil {
		return fmt.Errorf("store: %s: %w", doing, err)
	}
	return nil
}

// insert is exec for one new row; it returns the row's number.
func (tx *Tx) insert(doing, query string, args ...any) (int64, error) {
	res, err := tx.tx.ExecContext(background, query, args...)
	if err != nil {
		return 0, fmt.Errorf("store: %s: %w", doing, err)
	}
	id, err := res.LastInsertId()
	if err != nil {
		return 0, fmt.Errorf("store: %s: %w", doing, err)
	}
	return id, nil
}

package store

import (
	"database/sql"
	"errors"
	"fmt"
	"math"

	"flitch/process"
	"flitch/process/evidence"
)

// JournalHash is the hash of a line, see evidence.JournalHash.
func JournalHash(l process.JournalLine) string { return evidence.JournalHash(l) }

// A journalHead is the last line: what the next one is chained to.
type journalHead struct {
	seq  int64
	hash string
}

const headQuery = "SELECT seq, hash FROM journal ORDER BY seq DESC LIMIT 1"

// AppendJournal adds one line at the end of the journal. Its Seq, Prev and Hash
// are given by the store and need not be set.
func (tx *Tx) AppendJournal(l process.JournalLine) error {
	if tx.head == nil {
		head := journalHead{}
		err := tx.tx.QueryRowContext(background, headQuery).Scan(&head.seq, &head.hash)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("store: append to journal: %w", err)
		}
		tx.head = &head
	}
	l.Seq, l.Prev = tx.head.seq+1, tx.head.hash
	l.Hash = JournalHash(l)
	err := tx.exec("append to journal", "INSERT INTO journal (seq, at, batch, kind, by, text, prev, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
		l.Seq, l.At.UnixMilli(), l.Batch, l.Kind, l.By, l.Text, l.Prev, l.Hash)
	if err != nil {
		return err
	}
	*tx.head = journalHead{l.Seq, l.Hash}
	return nil
}

const journalQuery = "SELECT seq, at, batch, kind, by, text, prev, hash FROM journal"

// Journal returns the lines about batch, in order; about everything if batch is
// empty.
func (db *DB) Journal(batch string) ([]process.JournalLine, error) {
	if batch == "" {
		return list(db, "journal", scanLine, journalQuery+" ORDER BY seq")
	}
	return list(db, "journal of batch "+batch, scanLine, journalQuery+" WHERE batch = ? ORDER BY seq", batch)
}

// LinesOf returns the lines of a kind, in order.
func (db *DB) LinesOf(kind string) ([]process.JournalLine, error) {
	return list(db, "journal lines of "+kind, scanLine, journalQuery+" WHERE kind = ? ORDER BY seq", kind)
}

func scanLine(rows *sql.Rows) (l process.JournalLine, err error) {
	err = rows.Scan(&l.Seq, intoTime{&l.At}, &l.Batch, &l.Kind, &l.By, &l.Text, &l.Prev, &l.Hash)
	return l, err
}

// A BadLine is the first line of the journal that is not as it was written.
type BadLine = evidence.BadLine

// VerifyJournal walks the chain from line 1 and returns a *BadLine for the first
// line that was changed or is missing. Lines cut off at the end leave no trace
// here: compare the last hash with one that was printed or sent before.
func (db *DB) VerifyJournal() error {
	var chain evidence.Chain
	return db.EachLine(0, 0, chain.Next)
}

// EachLine calls fn for the lines of the journal with the numbers from to to, in order; a
// zero to means no end. It stops at fn's first error and returns it as it is.
func (db *DB) EachLine(from, to int64, fn func(process.JournalLine) error) error {
	if to == 0 {
		to = math.MaxInt64
	}
	return db.each("walk journal", func(rows *sql.Rows) error {
		l, err := scanLine(rows)
		if err != nil {
			return fmt.Errorf("store: walk journal: %w", err)
		}
		return fn(l)
	}, journalQuery+" WHERE seq BETWEEN ? AND ? ORDER BY seq", from, to)
}

// JournalHead returns the number and the hash of the last line; zero and "" if
// there is none.
func (db *DB) JournalHead() (seq int64, hash string, err error) {
	err = db.reader.QueryRowContext(background, headQuery).Scan(&seq, &hash)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, "", fmt.Errorf("store: journal head: %w", err)
	}
	return seq, hash, nil
}

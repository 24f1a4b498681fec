package store

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"

	"flitch/process"
)

// JournalHash is the hash of a line: SHA-256, in lower-case hex, over seven fields
// in this order:
//
//	seq    decimal
//	at     milliseconds since 1970-01-01 00:00 UTC, decimal
//	batch  UTF-8, empty if the line is about no batch
//	kind   UTF-8
//	by     UTF-8, empty if no person did it
//	text   UTF-8
//	prev   the hash of the line before, 64 hex digits; empty on line 1
//
// each written as its length in bytes, decimal, a colon, the bytes, and a comma (a
// netstring), with nothing between them. The lengths make it impossible to move
// text from one field to the next. Line 1 at the start of 1970 that says "hi"
// about nothing is hashed by
//
//	printf '1:1,1:0,0:,4:note,0:,2:hi,0:,' | sha256sum
//
// The Hash of l is not looked at.
func JournalHash(l process.JournalLine) string {
	fields := []string{
		strconv.FormatInt(l.Seq, 10), strconv.FormatInt(l.At.UnixMilli(), 10),
		l.Batch, l.Kind, l.By, l.Text, l.Prev,
	}
	var b []byte
	for _, f := range fields {
		b = strconv.AppendInt(b, int64(len(f)), 10)
		b = append(b, ':')
		b = append(b, f...)
		b = append(b, ',')
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

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

func scanLine(rows *sql.Rows) (l process.JournalLine, err error) {
	err = rows.Scan(&l.Seq, intoTime{&l.At}, &l.Batch, &l.Kind, &l.By, &l.Text, &l.Prev, &l.Hash)
	return l, err
}

// A BadLine is the first line of the journal that is not as it was written.
type BadLine struct {
	Seq  int64  // of the line, or of the place where it should be
	What string // in words
}

// Error names the line and what is wrong with it.
func (b *BadLine) Error() string { return fmt.Sprintf("journal line %d: %s", b.Seq, b.What) }

// VerifyJournal walks the chain from line 1 and returns a *BadLine for the first
// line that was changed or is missing. Lines cut off at the end leave no trace
// here: compare the last hash with one that was printed or sent before.
func (db *DB) VerifyJournal() error {
	var last journalHead
	return db.each("verify journal", func(rows *sql.Rows) error {
		l, err := scanLine(rows)
		if err != nil {
			return fmt.Errorf("store: verify journal: %w", err)
		}
		switch {
		case l.Seq != last.seq+1:
			return &BadLine{last.seq + 1, "it is missing"}
		case l.Prev != last.hash:
			return &BadLine{l.Seq, "it does not follow from the line before"}
		case l.Hash != JournalHash(l):
			return &BadLine{l.Seq, "its text does not match its hash"}
		}
		last = journalHead{l.Seq, l.Hash}
		return nil
	}, journalQuery+" ORDER BY seq")
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

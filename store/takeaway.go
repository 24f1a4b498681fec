package store

import (
	"database/sql"
	"errors"
	"fmt"
)

const (
	// takeFrom blocks full of covered rows are taken away together: of two hundred probes that is
	// whole pages, and a file that is caught up with has few rows too many. Proposal.
	takeFrom = 16
	// takeAtOnce bounds how long the writer is held: some 0.1 s.
	takeAtOnce = 16_384
)

// taking is what a Packer knows of the rows that are covered and still there.
type taking struct {
	due  bool  // there may be some
	rows int   // that it covered itself
	to   int64 // up to this number there are none
}

func (t *taking) more(rows int) { t.due, t.rows = true, t.rows+rows }

// takeAway takes away the next covered rows, and returns how many; 0: there are no more.
func (p *Packer) takeAway() (n int, err error) {
	if !p.take.due {
		return 0, nil
	}
	first, last, n, err := p.db.coveredAfter(p.take.to)
	if err != nil {
		return 0, err
	}
	if n == 0 {
		p.take = taking{}
		return 0, nil
	}
	if err := p.db.Update(func(tx *Tx) error { return tx.takeAway(first, last, n) }); err != nil {
		return 0, err
	}
	p.take.to = last
	return n, nil
}

// coveredAfter finds the first and the last number of the next covered rows, and how many they are. It
// looks no further than blocks reach: behind that there may be years.
func (db *DB) coveredAfter(seq int64) (first, last int64, n int, err error) {
	var from, to sql.NullInt64
	err = db.reader.QueryRowContext(background, `SELECT min(seq), max(seq), count(*) FROM (
		SELECT seq FROM readings r WHERE seq > ? AND seq <= ? AND `+covered+` ORDER BY seq LIMIT ?)`, seq, db.packedTo.Load(), takeAtOnce).Scan(&from, &to, &n)
	if err != nil {
		err = fmt.Errorf("store: find rows that are in blocks: %w", err)
	}
	return from.Int64, to.Int64, n, err
}

func (tx *Tx) takeAway(first, last int64, n int) error {
	these := "seq BETWEEN ? AND ? AND " + covered
	if err := tx.exec("take away marks", "DELETE FROM reading_marks WHERE seq IN (SELECT seq FROM readings r WHERE "+these+")", first, last); err != nil {
		return err
	}
	res, err := tx.tx.ExecContext(background, "DELETE FROM readings AS r WHERE "+these, first, last)
	if err != nil {
		return fmt.Errorf("store: take away rows: %w", err)
	}
	if gone, err := res.RowsAffected(); err != nil || gone != int64(n) {
		return errors.Join(fmt.Errorf("store: %d rows from %d to %d are in blocks, and there were %d", gone, first, last, n), err)
	}
	return nil
}

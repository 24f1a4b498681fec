package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"flitch/process"
	"flitch/process/evidence"
)

// sealedQueries are the rows with the numbers from ?1 to ?2, kind by kind: the rows of one
// strand are all in one of them, in the order of their numbers.
var sealedQueries = [...]struct {
	query string
	dest  func(*sealedRow) []any
}{
	{"SELECT seq, at, id, batch, body FROM commands WHERE seq BETWEEN ?1 AND ?2 ORDER BY seq", func(r *sealedRow) []any {
		r.Kind = process.InputCommand
		return []any{&r.Seq, &r.At, &r.ID, &r.Batch, &r.Body}
	}},
	{`SELECT r.seq, coalesce(m.at, r.received), p.name, r.measured, r.value, r.received, m.quality, m.reason, m.device, m.raw
		FROM readings r JOIN probes p ON p.id = r.probe LEFT JOIN reading_marks m ON m.seq = r.seq
		WHERE r.seq BETWEEN ?1 AND ?2 ORDER BY r.seq`, func(r *sealedRow) []any {
		r.Kind = process.InputReading
		return []any{&r.Seq, &r.At, &r.Probe, &r.Measured, intoReal{&r.Value}, &r.Received, &r.quality, &r.reason, &r.device, &r.raw}
	}},
	{"SELECT seq, at FROM ticks WHERE seq BETWEEN ?1 AND ?2 ORDER BY seq", func(r *sealedRow) []any {
		r.Kind = process.InputTick
		return []any{&r.Seq, &r.At}
	}},
}

// A sealedRow is a row as it is scanned.
type sealedRow struct {
	evidence.Row
	quality, device sql.NullInt64
	reason, raw     sql.NullString
}

// finish makes the mark of what was scanned.
func (r *sealedRow) finish() *evidence.Row {
	r.Mark = nil
	if r.quality.Valid {
		r.Mark = &evidence.Mark{Quality: process.Quality(r.quality.Int64), Reason: r.reason.String, Raw: r.raw.String}
		if r.device.Valid {
			device := r.device.Int64
			r.Mark.Device = &device
		}
	}
	return &r.Row
}

// EachRow calls fn for every row of the log with the numbers from to to as it is stored:
// commands, then readings, then ticks, each in the order of their numbers. It stops at fn's
// first error and returns it as it is; the row holds until fn returns. Rows that are
// committed never change, so it need not be one snapshot.
func (db *DB) EachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error) error {
	for _, q := range sealedQueries {
		row := new(sealedRow)
		dest := q.dest(row)
		err := db.each("read log", func(rows *sql.Rows) error {
			if err := rows.Scan(dest...); err != nil {
				return fmt.Errorf("store: read log: %w", err)
			}
			if err := ctx.Err(); err != nil {
				return err
			}
			return fn(row.finish())
		}, q.query, from, to)
		if err != nil {
			return err
		}
	}
	return nil
}

// A SealedLine is a line of the journal that is a seal.
type SealedLine struct {
	process.JournalLine
	Seal evidence.Seal
}

// LastSeal returns the newest seal; false: there is none.
func (db *DB) LastSeal() (SealedLine, bool, error) {
	return db.oneSeal("ORDER BY seq DESC LIMIT 1")
}

func (db *DB) oneSeal(order string, args ...any) (s SealedLine, found bool, err error) {
	lines, err := list(db, "seals", scanLine, journalQuery+" WHERE kind = '"+evidence.SealKind+"' "+order, args...)
	if err != nil || len(lines) == 0 {
		return s, false, err
	}
	s.JournalLine = lines[0]
	if s.Seal, found = evidence.ParseSeal(s.Text); !found {
		return s, false, fmt.Errorf("store: %w", &evidence.BadLine{Seq: s.Seq, What: "it is no seal as flitch writes it"})
	}
	return s, true, nil
}

// Seals returns every seal, in order. A line that is none is a *evidence.BadLine.
func (db *DB) Seals() ([]SealedLine, error) {
	return list(db, "seals", func(rows *sql.Rows) (s SealedLine, err error) {
		if s.JournalLine, err = scanLine(rows); err != nil {
			return s, err
		}
		var ok bool
		if s.Seal, ok = evidence.ParseSeal(s.Text); !ok {
			err = &evidence.BadLine{Seq: s.Seq, What: "it is no seal as flitch writes it"}
		}
		return s, err
	}, journalQuery+" WHERE kind = '"+evidence.SealKind+"' ORDER BY seq")
}

// AppendSigned adds a line at the end of the journal, and the signature that sign makes of
// it; nil: it is not signed. It returns the line as it was written.
func (tx *Tx) AppendSigned(l process.JournalLine, sign func(line int64, hash string, at int64) evidence.Signature) (process.JournalLine, error) {
	if err := tx.AppendJournal(l); err != nil {
		return l, err
	}
	l.Seq, l.Hash = tx.head.seq, tx.head.hash
	if sign == nil {
		return l, nil
	}
	s := sign(l.Seq, l.Hash, l.At.UnixMilli())
	return l, tx.exec("sign journal", "INSERT INTO signatures (line, hash, at, key, signature) VALUES (?, ?, ?, ?, ?)",
		s.Line, s.Hash, s.At, []byte(s.Key), s.Sig)
}

// Signatures returns the signatures of the lines from to to, in order.
func (db *DB) Signatures(from, to int64) ([]evidence.Signature, error) {
	return list(db, "signatures", func(rows *sql.Rows) (s evidence.Signature, err error) {
		err = rows.Scan(&s.Line, &s.Hash, &s.At, (*[]byte)(&s.Key), &s.Sig)
		return s, err
	}, "SELECT line, hash, at, key, signature FROM signatures WHERE line BETWEEN ? AND ? ORDER BY line", from, to)
}

// LastSignature returns the newest signature; false: there is none.
func (db *DB) LastSignature() (evidence.Signature, bool, error) {
	var line sql.NullInt64
	err := db.reader.QueryRowContext(background, "SELECT max(line) FROM signatures").Scan(&line)
	if err != nil || !line.Valid {
		return evidence.Signature{}, false, err
	}
	found, err := db.Signatures(line.Int64, line.Int64)
	if err != nil || len(found) == 0 {
		return evidence.Signature{}, false, err
	}
	return found[0], true, nil
}

// CountRows counts the rows of the log whose number is above after.
func (db *DB) CountRows(after int64) (n int64, err error) {
	err = db.reader.QueryRowContext(background, `SELECT (SELECT count(*) FROM readings WHERE seq > ?1) +
		(SELECT count(*) FROM commands WHERE seq > ?1) + (SELECT count(*) FROM ticks WHERE seq > ?1)`, after).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("store: count log: %w", err)
	}
	return n, nil
}

// SealEnd is the number of the row that is at most rows after the number after, and the
// last of the log if there are fewer: where a seal of bounded size ends.
func (db *DB) SealEnd(after int64, rows int) (int64, error) {
	var seq sql.NullInt64
	err := db.reader.QueryRowContext(background, `SELECT max(seq) FROM (SELECT seq FROM (
		SELECT * FROM (SELECT seq FROM readings WHERE seq > ?1 ORDER BY seq LIMIT ?2)
		UNION ALL SELECT * FROM (SELECT seq FROM commands WHERE seq > ?1 ORDER BY seq LIMIT ?2)
		UNION ALL SELECT * FROM (SELECT seq FROM ticks WHERE seq > ?1 ORDER BY seq LIMIT ?2)
		) ORDER BY seq LIMIT ?2)`, after, rows).Scan(&seq)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, fmt.Errorf("store: end of seal: %w", err)
	}
	return seq.Int64, nil // 0: there is nothing
}

package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store/block"
)

// EachRow calls fn for every row of the log with the numbers from to to as it is stored:
// commands, then readings, then ticks, each in the order of their numbers. It stops at fn's
// first error and returns it as it is; the row holds until fn returns. Rows that are
// committed never change, so it need not be one snapshot.
func (db *DB) EachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error) error {
	give := func(r *evidence.Row) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		return fn(r)
	}
	r := &evidence.Row{Kind: process.InputCommand}
	err := db.eachSealed(give, r, []any{&r.Seq, &r.At, &r.ID, &r.Batch, &r.Body},
		"SELECT seq, at, id, batch, body FROM commands WHERE seq BETWEEN ?1 AND ?2 ORDER BY seq", from, to)
	if err != nil {
		return err
	}
	err = db.look("read log", func(s *snapshot) error {
		return s.walkSeq("read log", bySeqInParts, from, to, func(probe string, r *block.Row) error { return give(rowOf(probe, r)) })
	})
	if err != nil {
		return err
	}
	r = &evidence.Row{Kind: process.InputTick}
	return db.eachSealed(give, r, []any{&r.Seq, &r.At}, "SELECT seq, at FROM ticks WHERE seq BETWEEN ?1 AND ?2 ORDER BY seq", from, to)
}

// eachSealed scans each row of a query into dest, which is of r, and hands r on.
func (db *DB) eachSealed(fn func(*evidence.Row) error, r *evidence.Row, dest []any, query string, args ...any) error {
	return db.each("read log", func(rows *sql.Rows) error {
		if err := rows.Scan(dest...); err != nil {
			return fmt.Errorf("store: read log: %w", err)
		}
		return fn(r)
	}, query, args...)
}

// rowOf is a reading as it is sealed.
func rowOf(probe string, r *block.Row) *evidence.Row {
	return &evidence.Row{Kind: process.InputReading, Seq: r.Seq, At: takenIn(r), Probe: probe,
		Measured: r.Measured, Received: r.Received, Value: r.Value, Mark: markOf(r.Mark)}
}

func markOf(m *block.Mark) *evidence.Mark {
	if m == nil {
		return nil
	}
	out := &evidence.Mark{Quality: process.Quality(m.Quality), Reason: m.Reason, Raw: m.Raw}
	if m.HasDevice {
		device := m.Device
		out.Device = &device
	}
	return out
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
	err = db.look("count log", func(s *snapshot) error {
		err := s.tx.QueryRowContext(background, `SELECT (SELECT count(*) FROM readings r WHERE seq > ?1 AND `+loose+`) +
			(SELECT count(*) FROM commands WHERE seq > ?1) + (SELECT count(*) FROM ticks WHERE seq > ?1) +
			(SELECT coalesce(sum(b.n), 0) FROM probes p JOIN blocks b ON b.probe = p.id AND b.last_seq > ?1 AND b.first_seq > ?1)`, after).Scan(&n)
		if err != nil {
			return fmt.Errorf("store: count log: %w", err)
		}
		cut, err := s.blocks("id IN (SELECT b.id FROM probes p JOIN blocks b ON b.probe = p.id AND b.last_seq > ?1 AND b.first_seq <= ?1)", after)
		if err != nil || len(cut) == 0 {
			return err
		}
		m := merge{snap: s, order: bySeq, from: key{after + 1, 0}, to: lastKey, waiting: cut}
		return m.walk(func(string, *block.Row) error { n++; return nil })
	})
	return n, err
}

// SealEnd is the number of the row that is at most rows after the number after, and the
// last of the log if there are fewer: where a seal of bounded size ends. What is in blocks is
// under a seal already, and is counted all the same.
func (db *DB) SealEnd(after int64, rows int) (end int64, err error) {
	err = db.look("end of seal", func(s *snapshot) error {
		var seqs []int64
		err := s.rows("end of seal", func(r *sql.Rows) error {
			seqs = append(seqs, 0)
			return r.Scan(&seqs[len(seqs)-1])
		}, `SELECT seq FROM (
			SELECT * FROM (SELECT seq FROM readings r WHERE seq > ?1 AND `+loose+` ORDER BY seq LIMIT ?2)
			UNION ALL SELECT * FROM (SELECT seq FROM commands WHERE seq > ?1 ORDER BY seq LIMIT ?2)
			UNION ALL SELECT * FROM (SELECT seq FROM ticks WHERE seq > ?1 ORDER BY seq LIMIT ?2)
			) ORDER BY seq LIMIT ?2`, after, rows)
		if err != nil {
			return err
		}
		if seqs, err = s.alsoPacked(seqs, after, rows); err == nil && len(seqs) > 0 {
			end = seqs[len(seqs)-1]
		}
		return err
	})
	return end, err // 0: there is nothing
}

// alsoPacked puts the numbers of readings in blocks among those of other rows.
func (s *snapshot) alsoPacked(seqs []int64, after int64, limit int) ([]int64, error) {
	to := int64(math.MaxInt64)
	if len(seqs) == limit && limit > 0 {
		to = seqs[limit-1]
	}
	m, err := s.bySeq(bySeqInParts, after+1, to)
	if err != nil || len(m.waiting) == 0 {
		return seqs, err
	}
	n := 0
	err = m.walk(func(_ string, r *block.Row) error {
		if n++; n > limit {
			return errEnough
		}
		seqs = append(seqs, r.Seq)
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, err
	}
	slices.Sort(seqs)
	return seqs[:min(len(seqs), limit)], nil
}

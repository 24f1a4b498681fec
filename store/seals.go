package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store/block"
)

// EachRow calls fn for every row of the log with the numbers from to to as it is stored:
// commands, then readings, then ticks, each in the order of their numbers. It stops at fn's
// first error and returns it as it is; the row holds until fn returns. Rows that are
// committed never change, so it need not be one snapshot.
func (db *DB) EachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error) error {
	return db.eachRow(ctx, from, to, fn, func(give func(*evidence.Row) error) error {
		return db.look("read log", func(s *snapshot) error {
			return s.walkSeq("read log", bySeqInParts, from, to, func(probe string, r *block.Row) error { return give(rowOf(probe, r)) })
		})
	})
}

// eachRow is EachRow with the readings from somewhere.
func (db *DB) eachRow(ctx context.Context, from, to int64, fn func(*evidence.Row) error, readings func(give func(*evidence.Row) error) error) error {
	give := func(r *evidence.Row) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		return fn(r)
	}
	r := &evidence.Row{Kind: process.InputCommand}
	err := db.eachSealed(give, r, []any{&r.Seq, &r.At, &r.ID, &r.Batch, &r.Body},
		"SELECT seq, at, id, batch, body FROM commands WHERE seq BETWEEN ?1 AND ?2 ORDER BY seq", from, to)
	if err == nil {
		err = readings(give)
	}
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

// SealBefore returns the last seal before a line of the journal; false: there is none.
func (db *DB) SealBefore(line int64) (SealedLine, bool, error) {
	return db.oneSeal("AND seq < ? ORDER BY seq DESC LIMIT 1", line)
}

// SealOver returns the first seal that reaches the number n of the log, or goes beyond; false: none
// does yet. Seals reach ever further, so few of years of them are looked at.
func (db *DB) SealOver(n int64) (over SealedLine, found bool, err error) {
	if over, found, err = db.LastSeal(); err != nil || !found || over.Seal.To < n {
		return over, false, err
	}
	under := int64(0) // a line before which no seal reaches n
	for over.Seq > under+1 {
		middle := under + (over.Seq-under)/2
		s, found, err := db.oneSeal("AND seq > ? AND seq <= ? ORDER BY seq DESC LIMIT 1", under, middle)
		switch {
		case err != nil:
			return over, false, err
		case found && s.Seal.To >= n:
			over = s
		default:
			under = middle
		}
	}
	return over, true, nil
}

// SealsBetween returns the seals of the lines from to to of the journal, in order.
func (db *DB) SealsBetween(from, to int64) ([]SealedLine, error) {
	return db.seals(" AND seq BETWEEN ? AND ?", from, to)
}

// Seals returns every seal, in order. A line that is none is a *evidence.BadLine.
func (db *DB) Seals() ([]SealedLine, error) { return db.seals("") }

func (db *DB) seals(where string, args ...any) ([]SealedLine, error) {
	return list(db, "seals", func(rows *sql.Rows) (s SealedLine, err error) {
		if s.JournalLine, err = scanLine(rows); err != nil {
			return s, err
		}
		var ok bool
		if s.Seal, ok = evidence.ParseSeal(s.Text); !ok {
			err = &evidence.BadLine{Seq: s.Seq, What: "it is no seal as flitch writes it"}
		}
		return s, err
	}, journalQuery+" WHERE kind = '"+evidence.SealKind+"'"+where+" ORDER BY seq", args...)
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

// EachNext calls fn as EachRow does, for the rows after a number, at most limit of them, and
// returns the number of the last in the log: where a seal of bounded size ends; 0: there is none. It
// holds the readings among them in memory.
func (db *DB) EachNext(ctx context.Context, after int64, limit int, fn func(*evidence.Row) error) (end int64, err error) {
	n := next{limit: limit}
	err = db.look("read next rows", func(s *snapshot) error { return n.find(ctx, s, after, db.LastSeq()) })
	if err != nil || n.end == 0 {
		return 0, err
	}
	err = db.eachRow(ctx, after+1, n.end, fn, func(give func(*evidence.Row) error) error {
		for i := range n.readings {
			if err := give(rowOf(n.probes[i], &n.readings[i])); err != nil {
				return err
			}
		}
		return nil
	})
	return n.end, err
}

// next are the next rows of the log, at most limit.
type next struct {
	limit    int
	readings []block.Row
	probes   []string // of each
	end      int64    // number of the last, reading or not
}

// windowRows is how many numbers are looked through first, for each row that is wanted: of years in
// blocks even the list is long. Nearly all numbers are of rows that are there.
const windowRows = 2

// find reads readings until limit rows are found, with commands and ticks among them.
func (n *next) find(ctx context.Context, s *snapshot, after, last int64) error {
	var others []int64 // numbers of commands and ticks
	err := s.rows("read next rows", func(r *sql.Rows) error {
		others = append(others, 0)
		return r.Scan(&others[len(others)-1])
	}, `SELECT seq FROM (
		SELECT * FROM (SELECT seq FROM commands WHERE seq > ?1 AND seq <= ?3 ORDER BY seq LIMIT ?2)
		UNION ALL SELECT * FROM (SELECT seq FROM ticks WHERE seq > ?1 AND seq <= ?3 ORDER BY seq LIMIT ?2)
		) ORDER BY seq LIMIT ?2`, after, n.limit, last)
	before := 0 // others before the reading
	for window := int64(windowRows * n.limit); err == nil && after < last; window *= 8 {
		to := last
		if window > 0 && window < last-after { // it is below when it has grown beyond all numbers
			to = after + window
		}
		err = s.walkSeq("read next rows", bySeqInParts, after+1, to, func(probe string, r *block.Row) error {
			for before < len(others) && others[before] < r.Seq {
				before++
			}
			if before+len(n.readings) >= n.limit {
				return errEnough
			}
			n.readings, n.probes = append(n.readings, *r), append(n.probes, probe)
			return ctx.Err()
		})
		after = to
	}
	if err != nil && !errors.Is(err, errEnough) {
		return err
	}
	if others = others[:min(len(others), n.limit-len(n.readings))]; len(others) > 0 {
		n.end = others[len(others)-1]
	}
	if len(n.readings) > 0 {
		n.end = max(n.end, n.readings[len(n.readings)-1].Seq)
	}
	return nil
}

package store

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"flitch/process"
	"flitch/store/block"
)

// logQuery is the log in the order it was taken in, but for what is in blocks. It is one
// statement, so that it is one snapshot: asking table by table could see command 11 and miss
// reading 10, which was committed in between. SQLite merges the three arms by their keys
// and stops at the limit.
var logQuery = `
SELECT r.seq, 0, coalesce(m.at, r.received), p.name, ` + readingColumns + `, NULL
  FROM readings r JOIN probes p ON p.id = r.probe LEFT JOIN reading_marks m ON m.seq = r.seq
  WHERE r.seq > ?1 AND ` + loose + `
UNION ALL
SELECT seq, 1, at, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, body FROM commands WHERE seq > ?1
UNION ALL
SELECT seq, 2, at, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL FROM ticks WHERE seq > ?1
ORDER BY 1 LIMIT ?2`

// newestQuery is the last input that is in no block: its number and its time.
const newestQuery = `SELECT seq, at FROM (
	SELECT * FROM (SELECT r.seq, coalesce(m.at, r.received) AS at
		FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq ORDER BY r.seq DESC LIMIT 1)
	UNION ALL SELECT * FROM (SELECT seq, at FROM commands ORDER BY seq DESC LIMIT 1)
	UNION ALL SELECT * FROM (SELECT seq, at FROM ticks ORDER BY seq DESC LIMIT 1)
	) ORDER BY seq DESC LIMIT 1`

// loadSeq finds where the counter stood.
func (db *DB) loadSeq() error {
	db.at = earliest
	return db.look("load sequence number", func(s *snapshot) error {
		err := s.tx.QueryRowContext(background, newestQuery).Scan(&db.seq, &db.at)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("load sequence number: %w", err)
		}
		if has, err := hasBlocks(background, s.tx); err != nil || !has {
			return err
		}
		var last sql.NullInt64
		if err := s.tx.QueryRowContext(background, lastInBlocks).Scan(&last); err != nil {
			return fmt.Errorf("load sequence number: %w", err)
		}
		db.packedTo.Store(last.Int64)
		err = nil
		if last.Int64 > db.seq {
			err = s.walkSeq("load sequence number", bySeq, last.Int64, last.Int64, func(_ string, r *block.Row) error {
				db.seq, db.at = r.Seq, takenIn(r)
				return nil
			})
		}
		if err == nil { // the number of a reading that was removed is not given out again
			err = s.tx.QueryRowContext(background, "SELECT max(?, coalesce(max(last_seq), 0)) FROM removals", db.seq).Scan(&db.seq)
		}
		return err
	})
}

// LastSeq returns the highest number given out; zero if the log is empty. It asks
// no disk. A database opened for reading only answers as of its opening.
func (db *DB) LastSeq() int64 {
	db.mu.Lock()
	defer db.mu.Unlock()
	return db.seq
}

// LastTaken returns the time of the newest input; zero if the log is empty.
func (db *DB) LastTaken() time.Time {
	db.mu.Lock()
	defer db.mu.Unlock()
	if db.at == earliest {
		return time.Time{}
	}
	return fromMilli(db.at)
}

// NextInputs returns at most limit inputs whose number is above after, in order.
// Their times never run backwards: an input that was stamped before the one in
// front of it, because it waited or because the wall clock was set back, carries
// that one's time in At. A reading keeps its own times beside it.
func (db *DB) NextInputs(after int64, limit int) ([]process.Input, error) {
	if !db.readOnly { // who is not far behind needs no block
		all, err := list(db, "next inputs", scanInput, logQuery, after, limit)
		if err != nil || db.packedTo.Load() <= after { // set before what it speaks of is committed
			return all, err
		}
	}
	var all []process.Input
	err := db.look("next inputs", func(s *snapshot) (err error) {
		err = s.rows("next inputs", func(rows *sql.Rows) error {
			in, err := scanInput(rows)
			all = append(all, in)
			return err
		}, logQuery, after, limit)
		if err == nil {
			all, err = s.withPacked(all, after, limit)
		}
		return err
	})
	return all, err
}

var errEnough = errors.New("enough")

// withPacked puts the inputs that are in blocks among the others.
func (s *snapshot) withPacked(others []process.Input, after int64, limit int) (all []process.Input, err error) {
	to := int64(math.MaxInt64)
	if len(others) == limit && limit > 0 { // what is beyond the last is not asked for
		to = others[limit-1].Seq
	}
	m, err := s.bySeq(bySeqInParts, after+1, to)
	if err != nil {
		return nil, err
	}
	err = m.walk(func(probe string, r *block.Row) error {
		for len(others) > 0 && others[0].Seq < r.Seq {
			all, others = append(all, others[0]), others[1:]
		}
		if len(all) >= limit {
			return errEnough
		}
		all = append(all, process.Input{Seq: r.Seq, At: fromMilli(takenIn(r)), Kind: process.InputReading, Reading: readingOf(probe, r)})
		return nil
	})
	if err != nil && !errors.Is(err, errEnough) {
		return nil, err
	}
	all = append(all, others...)
	return all[:min(len(all), limit)], nil
}

func scanInput(rows *sql.Rows) (process.Input, error) {
	var in process.Input
	var probe sql.NullString
	var r readingRow
	var body []byte
	dest := append([]any{&in.Seq, &in.Kind, intoTime{&in.At}, &probe}, r.dest()...)
	if err := rows.Scan(append(dest, &body)...); err != nil {
		return in, err
	}
	switch in.Kind {
	case process.InputReading:
		row := r.row(in.Seq)
		in.Reading = readingOf(probe.String, &row)
	case process.InputCommand:
		if err := json.Unmarshal(body, &in.Command); err != nil {
			return in, fmt.Errorf("command %d: %w", in.Seq, err)
		}
	}
	return in, nil
}

// Commands returns every command that names batch, in order.
func (db *DB) Commands(batch string) ([]process.Input, error) {
	return list(db, "commands of batch "+batch, scanCommand, "SELECT seq, at, body FROM commands WHERE batch = ? ORDER BY seq", batch)
}

func scanCommand(rows *sql.Rows) (process.Input, error) {
	in := process.Input{Kind: process.InputCommand}
	var body []byte
	if err := rows.Scan(&in.Seq, intoTime{&in.At}, &body); err != nil {
		return in, err
	}
	err := json.Unmarshal(body, &in.Command)
	return in, err
}

// TakenAt is the At that the next input will carry in the log if it is taken in at
// the time at: whole milliseconds, and never before the last input. A caller that
// steps a batch in the same transaction must use it, or a replay would differ.
func (tx *Tx) TakenAt(at time.Time) time.Time { return fromMilli(max(at.UnixMilli(), tx.at)) }

// AppendCommand adds c to the log. A command whose ID is known was sent twice: it
// is not added again, fresh is false and seq is the number it got the first time.
func (tx *Tx) AppendCommand(c process.Command, at time.Time) (seq int64, fresh bool, err error) {
	if c.ID == "" {
		return 0, false, errors.New("store: append command: it has no ID")
	}
	err = tx.tx.QueryRowContext(background, "SELECT seq FROM commands WHERE id = ?", c.ID).Scan(&seq)
	if err == nil {
		return seq, false, nil
	}
	if !errors.Is(err, sql.ErrNoRows) {
		return 0, false, fmt.Errorf("store: append command %s: %w", c.ID, err)
	}
	body, err := json.Marshal(c)
	if err != nil {
		return 0, false, fmt.Errorf("store: append command %s: %w", c.ID, err)
	}
	seq, ms := tx.next(at)
	err = tx.exec("append command "+c.ID, "INSERT INTO commands (seq, id, at, batch, body) VALUES (?, ?, ?, ?, ?)",
		seq, c.ID, ms, c.Batch, string(body))
	return seq, err == nil, err
}

// AppendTick adds to the log that time has passed.
func (tx *Tx) AppendTick(at time.Time) (seq int64, err error) {
	seq, ms := tx.next(at)
	return seq, tx.exec("append tick", "INSERT INTO ticks (seq, at) VALUES (?, ?)", seq, ms)
}

// next gives out one sequence number and the time that goes with it, ms.
func (tx *Tx) next(at time.Time) (seq, ms int64) {
	tx.seq++
	tx.at = max(tx.at, at.UnixMilli())
	return tx.seq, tx.at
}

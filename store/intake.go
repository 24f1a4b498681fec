package store

import (
	"database/sql"
	"fmt"
	"strings"

	"flitch/ingest/decode"
	"flitch/process"
)

// Committed says what CommitIntake did.
type Committed struct {
	Stored     int   // readings that are new
	Duplicates int   // readings whose probe and time measured were known
	LastSeq    int64 // highest number in the log after this call
}

// The readings are inserted by statements that take 1, 2, 4 ... 64 of them each;
// multi-row statements are what makes the intake fast. 64 lies in the measured
// best range of 50 to 100.
const insertSizes = 7

// perReading is how many arguments one reading needs; a statement has one more in
// front, its first sequence number less one.
const perReading = 4

// insertQuery is the statement for n readings. A conflict on the key is a
// duplicate and dropped; any other trouble is an error, which OR IGNORE would
// swallow.
func insertQuery(n int) string {
	rows := make([]string, n)
	for i := range rows {
		a := perReading*i + 2
		rows[i] = fmt.Sprintf("(?1+%d,?%d,?%d,?%d,?%d)", i+1, a, a+1, a+2, a+3)
	}
	return "INSERT INTO readings (seq, probe, measured, value, received) VALUES " + strings.Join(rows, ",") +
		" ON CONFLICT (probe, measured) DO NOTHING"
}

func (db *DB) prepareInserts() error {
	for i := range insertSizes {
		readings, err := db.writer.Prepare(insertQuery(1 << i))
		if err != nil {
			return fmt.Errorf("prepare insert: %w", err)
		}
		marks, err := db.writer.Prepare(markQuery(1 << i))
		if err != nil {
			return fmt.Errorf("prepare marks: %w", err)
		}
		db.insert, db.mark = append(db.insert, readings), append(db.mark, marks)
	}
	db.args = make([]any, 0, 1+perReading<<(insertSizes-1))
	db.markArgs = make([]any, 0, perMark<<(insertSizes-1))
	return nil
}

// CommitIntake stores readings and rejected messages in one transaction. When it
// returns without an error they are on disk and may be acknowledged; after an
// error none of them is stored, and the same call may be made again.
func (db *DB) CommitIntake(readings []process.Reading, rejected []decode.Rejection) (Committed, error) {
	if len(readings) == 0 && len(rejected) == 0 {
		return Committed{LastSeq: db.LastSeq()}, nil
	}
	var done Committed
	err := db.Update(func(tx *Tx) error {
		in := intake{tx: tx}
		if err := in.take(readings); err != nil {
			return err
		}
		if err := tx.reject(rejected); err != nil {
			return err
		}
		done = Committed{Stored: in.stored, Duplicates: len(readings) - in.stored, LastSeq: tx.seq}
		return nil
	})
	if err != nil {
		return Committed{}, err
	}
	return done, nil
}

// An intake is the work of one CommitIntake.
type intake struct {
	tx     *Tx
	insert [insertSizes]*sql.Stmt // the statements, bound to the transaction
	mark   [insertSizes]*sql.Stmt // those for marks
	marks  []mark                 // of the statement in hand
	stored int
}

// take inserts the readings, as many at a time as the largest statement that is
// still filled takes.
func (in *intake) take(readings []process.Reading) error {
	for size := insertSizes - 1; len(readings) > 0; {
		n := 1 << size
		if len(readings) < n {
			size--
			continue
		}
		if err := in.insertChunk(size, readings[:n]); err != nil {
			return err
		}
		readings = readings[n:]
	}
	return nil
}

// insertChunk runs statement size on readings, 1<<size of them. Numbers are given
// out even for the duplicates among them, except when there is nothing else.
func (in *intake) insertChunk(size int, readings []process.Reading) error {
	known, err := in.known(readings)
	if err != nil {
		return err
	}
	if known != nil {
		return in.insertBeside(readings, known)
	}
	return in.insertRows(size, readings)
}

func (in *intake) insertRows(size int, readings []process.Reading) error {
	args, at, err := in.bind(readings)
	if err != nil {
		return err
	}
	if in.insert[size] == nil {
		in.insert[size] = in.tx.tx.StmtContext(background, in.tx.db.insert[size])
	}
	res, err := in.insert[size].ExecContext(background, args...)
	if err != nil {
		return fmt.Errorf("store: insert readings: %w", err)
	}
	stored, err := res.RowsAffected()
	if err != nil {
		return fmt.Errorf("store: insert readings: %w", err)
	}
	if stored == 0 {
		return nil
	}
	in.stored += int(stored)
	in.tx.seq += int64(len(readings))
	in.tx.at = at
	return in.insertMarks(in.marks)
}

// bind fills the arguments for readings and collects their marks. The array of
// arguments is the DB's: the writer is held.
func (in *intake) bind(readings []process.Reading) (args []any, at int64, err error) {
	tx := in.tx
	args, at, in.marks = append(tx.db.args[:0], tx.seq), tx.at, in.marks[:0]
	for i := range readings {
		r := &readings[i]
		probe, err := tx.probe(r.Probe)
		if err != nil {
			return nil, 0, err
		}
		measured, received := r.Measured.UnixMilli(), r.Received.UnixMilli()
		args = append(args, probe, measured, r.Value, received)
		at = max(at, received)
		if at != received || !isPlain(r, measured, received) {
			in.marks = append(in.marks, mark{seq: tx.seq + int64(i) + 1, reading: r, at: at})
		}
	}
	return args, at, nil
}

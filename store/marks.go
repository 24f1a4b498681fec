package store

import (
	"fmt"
	"strings"

	"flitch/process"
)

// A mark is what is to be kept of a reading beside its numbers.
type mark struct {
	seq     int64
	reading *process.Reading
	at      int64 // place in the log, ms; may be later than the time received
}

// isPlain reports whether r needs no mark to come back as it is.
func isPlain(r *process.Reading, measured, received int64) bool {
	if r.Quality != process.Good || r.Reason != "" || r.Raw != "" {
		return false
	}
	if r.Device.IsZero() {
		return !impliedDevice(measured, received)
	}
	return impliedDevice(measured, received) && r.Device.UnixMilli() == measured
}

// perMark is how many arguments one mark needs.
const perMark = 6

// markQuery is the statement for n marks. It skips those of duplicates: their number is
// not in the readings.
func markQuery(n int) string {
	return `INSERT INTO reading_marks (seq, quality, reason, device, raw, at)
		SELECT column1, column2, column3, column4, column5, column6 FROM (VALUES ` + strings.TrimSuffix(strings.Repeat("(?,?,?,?,?,?),", n), ",") +
		`) WHERE EXISTS (SELECT 1 FROM readings WHERE seq = column1)`
}

// insertMarks stores marks by statements that take 1, 2, 4 ... 64 of them each, as the
// readings are: of what is imported or comes late each has one.
func (in *intake) insertMarks(marks []mark) error {
	for size := insertSizes - 1; len(marks) > 0; {
		n := 1 << size
		if len(marks) < n {
			size--
			continue
		}
		if err := in.insertMarksOf(size, marks[:n]); err != nil {
			return err
		}
		marks = marks[n:]
	}
	return nil
}

func (in *intake) insertMarksOf(size int, marks []mark) error {
	args := in.tx.db.markArgs[:0]
	for _, m := range marks {
		var at any
		if m.at != m.reading.Received.UnixMilli() {
			at = m.at
		}
		args = append(args, m.seq, int64(m.reading.Quality), bounded(m.reading.Reason),
			optionalMilli(m.reading.Device), bounded(m.reading.Raw), at)
	}
	if in.mark[size] == nil {
		in.mark[size] = in.tx.tx.StmtContext(background, in.tx.db.mark[size])
	}
	if _, err := in.mark[size].ExecContext(background, args...); err != nil {
		return fmt.Errorf("store: mark readings: %w", err)
	}
	return nil
}

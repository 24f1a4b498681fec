package store

import "flitch/process"

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

// insertMarks skips the marks of duplicates: their number is not in the readings.
func (tx *Tx) insertMarks(marks []mark) error {
	for _, m := range marks {
		var at any
		if m.at != m.reading.Received.UnixMilli() {
			at = m.at
		}
		err := tx.exec("mark reading", `INSERT INTO reading_marks (seq, quality, reason, device, raw, at)
			SELECT ?1, ?2, ?3, ?4, ?5, ?6 WHERE EXISTS (SELECT 1 FROM readings WHERE seq = ?1)`,
			m.seq, int64(m.reading.Quality), bounded(m.reading.Reason),
			optionalMilli(m.reading.Device), bounded(m.reading.Raw), at)
		if err != nil {
			return err
		}
	}
	return nil
}

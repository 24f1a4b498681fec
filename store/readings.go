package store

import (
	"database/sql"
	"fmt"
	"math"
	"strings"
	"time"

	"flitch/process"
)

// readingColumns are a reading without its probe, from readings r and
// reading_marks m, in the order of readingRow.dest.
const readingColumns = "r.measured, r.value, r.received, m.quality, m.reason, m.device, m.raw"

// A readingRow is one row of readingColumns. All of it is NULL in a row of the log
// that is no reading, and the last four in a reading without a mark.
type readingRow struct {
	measured, received sql.NullInt64
	value              sql.NullFloat64
	quality, device    sql.NullInt64
	reason, raw        sql.NullString
}

func (r *readingRow) dest() []any {
	return []any{&r.measured, &r.value, &r.received, &r.quality, &r.reason, &r.device, &r.raw}
}

func (r *readingRow) reading(probe string) process.Reading {
	out := process.Reading{
		Probe:    probe,
		Measured: fromMilli(r.measured.Int64),
		Received: fromMilli(r.received.Int64),
		Value:    r.value.Float64,
		Quality:  process.Quality(r.quality.Int64),
		Reason:   r.reason.String,
		Raw:      r.raw.String,
	}
	if !r.value.Valid {
		out.Value = math.NaN()
	}
	marked := r.quality.Valid
	switch {
	case marked && r.device.Valid:
		out.Device = fromMilli(r.device.Int64)
	case !marked && impliedDevice(r.measured.Int64, r.received.Int64):
		out.Device = out.Measured
	}
	return out
}

// impliedDevice says what a reading without a mark is taken to mean: one that was
// measured at another instant than it came in carried that instant as its device
// time, and one that was not carried none. A reading for which that is wrong gets
// a mark.
func impliedDevice(measured, received int64) bool { return measured != received }

// HasReading reports whether there is a reading of probe measured at that
// millisecond.
func (db *DB) HasReading(probe string, measured time.Time) (bool, error) {
	var has bool
	err := db.reader.QueryRowContext(background, `SELECT EXISTS (SELECT 1 FROM readings
		WHERE probe = (SELECT id FROM probes WHERE name = ?) AND measured = ?)`, probe, measured.UnixMilli()).Scan(&has)
	if err != nil {
		return false, db.look(fmt.Errorf("store: look for reading of %s: %w", probe, err))
	}
	return has, nil
}

// deviceLookBack is how many of a probe's newest readings are searched for one
// whose device time was believed. It bounds the work for probes that send none;
// the figure is a proposal.
const deviceLookBack = 1000

// deviceQuery finds, for each probe, the newest reading whose device time is the
// time measured.
const deviceQuery = `SELECT p.name, (
	SELECT max(measured) FROM (
		SELECT r.measured, CASE WHEN m.seq IS NULL THEN r.measured <> r.received
			ELSE coalesce(m.device = r.measured, 0) END AS believed
		FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq
		WHERE r.probe = p.id ORDER BY r.measured DESC LIMIT ?)
	WHERE believed) AS newest FROM probes p WHERE newest IS NOT NULL`

// NewestDeviceTimes returns, for each probe, the newest device time that was
// believed, that is, taken as the time measured. Probes of which none of the last
// 1000 readings had one are left out.
func (db *DB) NewestDeviceTimes() (map[string]time.Time, error) {
	newest := map[string]time.Time{}
	err := db.each("newest device times", func(rows *sql.Rows) error {
		var probe string
		var at time.Time
		if err := rows.Scan(&probe, intoTime{&at}); err != nil {
			return fmt.Errorf("store: newest device times: %w", err)
		}
		newest[probe] = at
		return nil
	}, deviceQuery, deviceLookBack)
	return newest, err
}

// LatestReadings returns the reading of each probe that was measured last, of any
// quality.
func (db *DB) LatestReadings() (map[string]process.Reading, error) {
	latest := map[string]process.Reading{}
	err := db.each("latest readings", func(rows *sql.Rows) error {
		var probe string
		var r readingRow
		if err := rows.Scan(append([]any{&probe}, r.dest()...)...); err != nil {
			return fmt.Errorf("store: latest readings: %w", err)
		}
		latest[probe] = r.reading(probe)
		return nil
	}, `SELECT p.name, `+readingColumns+` FROM probes p
		JOIN readings r ON r.seq = (SELECT seq FROM readings WHERE probe = p.id ORDER BY measured DESC LIMIT 1)
		LEFT JOIN reading_marks m ON m.seq = r.seq`)
	return latest, err
}

// EachReading calls fn for every reading of the probes measured in [from, to),
// ordered by time measured, then by number; a zero to means no end. It stops at
// fn's first error and returns it as it is. One snapshot is held open meanwhile:
// fn must be quick. At most 500 probes.
func (db *DB) EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error {
	if len(probes) == 0 {
		return nil
	}
	var seq int64
	var probe int
	var r readingRow
	dest := append([]any{&seq, &probe}, r.dest()...)
	query, args := seriesQuery(probes, from, to)
	return db.each("read series", func(rows *sql.Rows) error {
		if err := rows.Scan(dest...); err != nil {
			return fmt.Errorf("store: read series: %w", err)
		}
		return fn(seq, r.reading(probes[probe]))
	}, query, args...)
}

// seriesQuery has one arm for each probe. Every arm is read in the order of the
// unique key and SQLite merges them, so nothing is sorted however long the series.
func seriesQuery(probes []string, from, to time.Time) (string, []any) {
	args := []any{from.UnixMilli(), int64(math.MaxInt64)}
	if !to.IsZero() {
		args[1] = to.UnixMilli()
	}
	arms := make([]string, 0, len(probes))
	seen := map[string]bool{}
	for i, name := range probes {
		if seen[name] {
			continue
		}
		seen[name] = true
		args = append(args, name)
		arms = append(arms, fmt.Sprintf(`SELECT r.seq, %d, %s
			FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq
			WHERE r.probe = (SELECT id FROM probes WHERE name = ?%d) AND r.measured >= ?1 AND r.measured < ?2`,
			i, readingColumns, len(args)))
	}
	return strings.Join(arms, " UNION ALL ") + " ORDER BY 3, 1", args
}

// NewestReading returns the number of the newest reading that is committed; zero when
// there is none.
func (db *DB) NewestReading() (int64, error) {
	var seq int64
	err := db.reader.QueryRowContext(background, "SELECT coalesce(max(seq), 0) FROM readings").Scan(&seq)
	if err != nil {
		return 0, fmt.Errorf("store: newest reading: %w", err)
	}
	return seq, nil
}

// EachReadingAfter calls fn for every reading of any probe that was taken in after the
// one with the number, in the order they were taken in: late ones too. It is as
// EachReading otherwise.
func (db *DB) EachReadingAfter(seq int64, fn func(seq int64, r process.Reading) error) error {
	var probe string
	var r readingRow
	dest := append([]any{&seq, &probe}, r.dest()...)
	return db.each("read newer readings", func(rows *sql.Rows) error {
		if err := rows.Scan(dest...); err != nil {
			return fmt.Errorf("store: read newer readings: %w", err)
		}
		return fn(seq, r.reading(probe))
	}, `SELECT r.seq, p.name, `+readingColumns+` FROM readings r JOIN probes p ON p.id = r.probe
		LEFT JOIN reading_marks m ON m.seq = r.seq WHERE r.seq > ? ORDER BY r.seq`, seq)
}

package store

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"flitch/process"
	"flitch/store/block"
)

// impliedDevice says what a reading without a mark is taken to mean: one that was
// measured at another instant than it came in carried that instant as its device
// time, and one that was not carried none. A reading for which that is wrong gets
// a mark.
func impliedDevice(measured, received int64) bool { return measured != received }

// HasReading reports whether there is a reading of probe measured at that
// millisecond.
func (db *DB) HasReading(probe string, measured time.Time) (has bool, err error) {
	ms := measured.UnixMilli()
	err = db.reader.QueryRowContext(background, `SELECT EXISTS (SELECT 1 FROM readings
		WHERE probe = (SELECT id FROM probes WHERE name = ?) AND measured = ?)`, probe, ms).Scan(&has)
	if err != nil {
		return false, db.noticed(fmt.Errorf("store: look for reading of %s: %w", probe, err))
	}
	if has {
		return true, nil
	}
	err = db.look("look for reading of "+probe, func(s *snapshot) error { // rows only ever go into blocks: none is missed in between
		blocks, err := s.blocks("probe = (SELECT id FROM probes WHERE name = ?) AND last_measured >= ? AND first_measured <= ?", probe, ms, ms)
		for i := 0; i < len(blocks) && err == nil && !has; i++ {
			var rows []block.Row
			_, rows, err = s.open(blocks[i].id)
			has = slices.ContainsFunc(rows, func(r block.Row) bool { return r.Measured == ms })
		}
		return err
	})
	return has, err
}

// EachReading calls fn for every reading of the probes measured in [from, to),
// ordered by time measured, then by number; a zero to means no end. It stops at
// fn's first error and returns it as it is. One snapshot is held open meanwhile:
// fn must be quick. At most 500 probes.
func (db *DB) EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error {
	if len(probes) == 0 {
		return nil
	}
	probes = slices.Compact(slices.Sorted(slices.Values(probes)))
	first, end := from.UnixMilli(), int64(math.MaxInt64)
	if !to.IsZero() {
		end = to.UnixMilli()
	}
	return db.look("read series", func(s *snapshot) error {
		query, args := seriesQuery(probes, first, end)
		src, err := s.source("read series", query, args...)
		if err != nil {
			return err
		}
		defer src.rows.Close()
		waiting, err := s.blocks("last_measured >= ?1 AND first_measured < ?2 AND probe IN (SELECT id FROM probes WHERE name IN "+several(len(probes))+")", args...)
		if err != nil {
			return err
		}
		m := merge{snap: s, order: byTime, from: key{first, math.MinInt64}, to: key{end, math.MinInt64}, waiting: waiting, sources: []*stream{src.stream()}}
		return m.walk(func(probe string, r *block.Row) error { return fn(r.Seq, readingOf(probe, r)) })
	})
}

// readAtOnce is how many readings EachReadingSlowly reads at once, some two megabytes.
const readAtOnce = 16_384

// errReadAtOnce ends a walk.
var errReadAtOnce = errors.New("store: enough is read")

// EachReadingSlowly is EachReading of one probe for an fn that may take its time, because it
// writes to a line that somebody reads as slowly as they like: fn runs while no snapshot is
// held. One that was held for hours would keep all from the database that is written meanwhile,
// and the file beside it would grow.
func (db *DB) EachReadingSlowly(probe string, from, to time.Time, fn func(seq int64, r process.Reading) error) error {
	var seqs []int64
	var readings []process.Reading
	for {
		seqs, readings = seqs[:0], readings[:0]
		walked := db.EachReading([]string{probe}, from, to, func(seq int64, r process.Reading) error {
			if len(seqs) == readAtOnce {
				return errReadAtOnce
			}
			seqs, readings = append(seqs, seq), append(readings, r)
			return nil
		})
		if walked != nil && walked != errReadAtOnce {
			return walked
		}
		for i, seq := range seqs {
			if err := fn(seq, readings[i]); err != nil {
				return err
			}
		}
		if walked == nil {
			return nil
		}
		from = readings[len(readings)-1].Measured.Add(time.Millisecond) // a probe has one reading of a moment
	}
}

// seriesQuery has one arm for each probe. Every arm is read in the order of the
// unique key and SQLite merges them, so nothing is sorted however long the series.
// Its arguments are from, to and the names.
func seriesQuery(probes []string, from, to int64) (string, []any) {
	args := []any{from, to}
	arms := make([]string, 0, len(probes))
	for _, name := range probes {
		args = append(args, name)
		probe := fmt.Sprintf("(SELECT id FROM probes WHERE name = ?%d)", len(args))
		arms = append(arms, fmt.Sprintf(`SELECT r.seq, ?%[1]d, %[2]s
			FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq
			WHERE r.probe = %[3]s AND r.measured >= ?1 AND r.measured < ?2 AND %[4]s`,
			len(args), readingColumns, probe, looseOf(probe)))
	}
	return strings.Join(arms, " UNION ALL ") + " ORDER BY 3, 1", args
}

// NewestReading returns the number of the newest reading that is committed; zero when
// there is none.
func (db *DB) NewestReading() (seq int64, err error) {
	err = db.reader.QueryRowContext(background, "SELECT max(coalesce((SELECT max(seq) FROM readings), 0), coalesce(("+lastInBlocks+"), 0))").Scan(&seq)
	if err != nil {
		return 0, fmt.Errorf("store: newest reading: %w", err)
	}
	return seq, nil
}

// lastInBlocks is the highest number in any block: one look at the index for each probe.
const lastInBlocks = "SELECT max((SELECT max(last_seq) FROM blocks WHERE probe = p.id)) FROM probes p"

// EachReadingAfter calls fn for every reading of any probe that was taken in after the
// one with the number, in the order they were taken in: late ones too. It is as
// EachReading otherwise.
func (db *DB) EachReadingAfter(seq int64, fn func(seq int64, r process.Reading) error) error {
	if seq == math.MaxInt64 {
		return nil
	}
	return db.look("read newer readings", func(s *snapshot) error {
		return s.walkSeq("read newer readings", bySeq, seq+1, math.MaxInt64, func(probe string, r *block.Row) error {
			return fn(r.Seq, readingOf(probe, r))
		})
	})
}

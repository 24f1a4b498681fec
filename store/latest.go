package store

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"flitch/process"
	"flitch/store/block"
)

// deviceLookBack is how many of a probe's newest readings are searched for one
// whose device time was believed. It bounds the work for probes that send none;
// the figure is a proposal.
const deviceLookBack = 1000

// believed is the time measured of readings, newest first, and of each whether it is the
// device's own.
type believed struct {
	measured int64
	device   bool
}

var believedQuery = `SELECT r.measured, CASE WHEN m.seq IS NULL THEN r.measured <> r.received
	ELSE coalesce(m.device = r.measured, 0) END
	FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq
	WHERE r.probe = ?1 AND ` + looseOf("?1") + ` ORDER BY r.measured DESC LIMIT ?2`

// NewestDeviceTimes returns, for each probe, the newest device time that was
// believed, that is, taken as the time measured. Probes of which none of the last
// 1000 readings had one are left out.
func (db *DB) NewestDeviceTimes() (map[string]time.Time, error) {
	newest := map[string]time.Time{}
	err := db.look("newest device times", func(s *snapshot) error {
		return s.eachProbe(func(probe int64, name string) error {
			at, found, err := s.newestDeviceTime(probe)
			if found {
				newest[name] = fromMilli(at)
			}
			return err
		})
	})
	return newest, err
}

// eachProbe calls fn for each probe that has sent anything.
func (s *snapshot) eachProbe(fn func(id int64, name string) error) error {
	names := map[int64]string{}
	err := s.rows("list probes", func(rows *sql.Rows) error {
		var id int64
		var name string
		err := rows.Scan(&id, &name)
		names[id] = name
		return err
	}, "SELECT id, name FROM probes")
	for id, name := range names {
		if err == nil {
			err = fn(id, name)
		}
	}
	return err
}

func (s *snapshot) newestDeviceTime(probe int64) (at int64, found bool, err error) {
	var seen []believed
	err = s.rows("newest device times", func(rows *sql.Rows) error {
		var b believed
		err := rows.Scan(&b.measured, &b.device)
		seen = append(seen, b)
		if b.device && err == nil {
			return errEnough // what is older does not matter any more
		}
		return err
	}, believedQuery, probe, deviceLookBack)
	if errors.Is(err, errEnough) {
		err = nil
	}
	var blocks []blockRow
	for looked := 0; err == nil; looked++ {
		if len(blocks) == 0 {
			if blocks, err = s.newestBlocks(probe, looked); err != nil {
				return 0, false, err
			}
		}
		i := slices.IndexFunc(seen, func(b believed) bool { return b.device })
		full := len(seen) == deviceLookBack
		switch {
		case len(blocks) == 0, full && blocks[0].lastMeasured < seen[len(seen)-1].measured, i >= 0 && blocks[0].lastMeasured < seen[i].measured:
			if i < 0 {
				return 0, false, nil
			}
			return seen[i].measured, true, nil
		}
		if seen, err = s.alsoIn(blocks[0].id, seen); err != nil {
			return 0, false, err
		}
		blocks = blocks[1:]
	}
	return 0, false, err
}

// newestBlocks lists the next few blocks of a probe, those with the latest readings first. A month of
// two hundred probes has hundreds of each, and the first one tells nearly always.
func (s *snapshot) newestBlocks(probe int64, looked int) ([]blockRow, error) {
	return s.blocks("probe = ? ORDER BY last_measured DESC LIMIT 8 OFFSET ?", probe, looked)
}

// alsoIn puts the readings of a block among those seen, and keeps the newest.
func (s *snapshot) alsoIn(id int64, seen []believed) ([]believed, error) {
	_, rows, err := s.open(id)
	if err != nil {
		return nil, err
	}
	for i := range rows {
		seen = append(seen, believed{rows[i].Measured, hasOwnTime(&rows[i])})
	}
	slices.SortFunc(seen, func(a, b believed) int { return cmp.Compare(b.measured, a.measured) })
	return seen[:min(len(seen), deviceLookBack)], nil
}

// hasOwnTime is believedQuery's column for a row of a block.
func hasOwnTime(r *block.Row) bool {
	if r.Mark == nil {
		return r.Measured != r.Received
	}
	return r.Mark.HasDevice && r.Mark.Device == r.Measured
}

// LatestReadings returns the reading of each probe that was measured last, of any
// quality.
func (db *DB) LatestReadings() (map[string]process.Reading, error) {
	latest := map[string]process.Reading{}
	err := db.look("latest readings", func(s *snapshot) error {
		if err := s.latestRows(latest); err != nil {
			return err
		}
		return s.eachProbe(func(probe int64, name string) error {
			blocks, err := s.blocks("probe = ? ORDER BY last_measured DESC LIMIT 1", probe)
			if err != nil || len(blocks) == 0 {
				return err
			}
			if r, known := latest[name]; known && r.Measured.UnixMilli() > blocks[0].lastMeasured {
				return nil
			}
			_, rows, err := s.open(blocks[0].id)
			if err == nil {
				rows = inOrderOfTime(rows)
				latest[name] = readingOf(name, &rows[len(rows)-1])
			}
			return err
		})
	})
	return latest, err
}

// latestRows puts in those that are still rows.
func (s *snapshot) latestRows(latest map[string]process.Reading) error {
	return s.rows("latest readings", func(rows *sql.Rows) error {
		var probe string
		var r readingRow
		if err := rows.Scan(append([]any{&probe}, r.dest()...)...); err != nil {
			return fmt.Errorf("store: latest readings: %w", err)
		}
		row := r.row(0)
		latest[probe] = readingOf(probe, &row)
		return nil
	}, `SELECT p.name, `+readingColumns+` FROM probes p
		JOIN readings r ON r.seq = (SELECT seq FROM readings WHERE probe = p.id ORDER BY measured DESC LIMIT 1)
		LEFT JOIN reading_marks m ON m.seq = r.seq`)
}

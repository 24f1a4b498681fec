package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// Check reads the whole file and returns an error that names what is damaged, up
// to 100 findings of SQLite's integrity check. It takes seconds per gigabyte.
func (db *DB) Check() error {
	found, err := list(db, "check", func(rows *sql.Rows) (line string, err error) {
		err = rows.Scan(&line)
		return line, err
	}, "PRAGMA integrity_check")
	if err != nil {
		return err
	}
	if len(found) == 1 && found[0] == "ok" {
		return nil
	}
	return errors.New("store: check: " + strings.Join(found, "; "))
}

// QuickCheck is Check without holding the indexes against their tables: it reads every
// page in a fraction of the time.
func (db *DB) QuickCheck() error {
	found, err := list(db, "check", func(rows *sql.Rows) (line string, err error) {
		err = rows.Scan(&line)
		return line, err
	}, "PRAGMA quick_check")
	if err == nil && (len(found) != 1 || found[0] != "ok") {
		err = errors.New("store: check: " + strings.Join(found, "; "))
	}
	return err
}

// Counts are the sizes that say how a database is doing. All are cheap to find.
type Counts struct {
	LastSeq           int64 // number of the last input
	Probes            int64
	Commands          int64
	Rejected          int64 // messages rejected so far; only the newest are kept
	JournalLines      int64
	ActiveOccurrences int64
	PendingMessages   int64
}

// Counts returns the sizes.
func (db *DB) Counts() (Counts, error) { return counts(background, db.reader) }

// hasBlocks reports whether the schema is of the flitch that packs readings, or later: a backup is
// looked at as it is, whatever made it.
func hasBlocks(ctx context.Context, q querier) (has bool, err error) {
	err = q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'blocks')").Scan(&has)
	return has, err
}

func counts(ctx context.Context, q querier) (Counts, error) {
	var c Counts
	err := q.QueryRowContext(ctx, `SELECT
		coalesce((SELECT seq FROM (`+newestQuery+`)), 0), (SELECT count(*) FROM probes), (SELECT count(*) FROM commands),
		(SELECT coalesce(max(id), 0) FROM rejections), (SELECT coalesce(max(seq), 0) FROM journal),
		(SELECT count(*) FROM occurrences WHERE active = 1),
		(SELECT count(*) FROM messages WHERE status = 'pending')`).Scan(
		&c.LastSeq, &c.Probes, &c.Commands, &c.Rejected, &c.JournalLines, &c.ActiveOccurrences, &c.PendingMessages)
	if err != nil {
		return Counts{}, fmt.Errorf("store: counts: %w", err)
	}
	if has, err := hasBlocks(ctx, q); err != nil || !has {
		return c, err
	}
	var packed sql.NullInt64
	if err := q.QueryRowContext(ctx, lastInBlocks).Scan(&packed); err != nil {
		return Counts{}, fmt.Errorf("store: counts: %w", err)
	}
	c.LastSeq = max(c.LastSeq, packed.Int64)
	return c, nil
}

// CountReadings counts the readings. It reads a whole index: about a second for
// each ten million that are not in blocks yet.
func (db *DB) CountReadings() (n int64, err error) {
	err = db.look("count readings", func(s *snapshot) error {
		n, err = countReadings(background, s.tx)
		return err
	})
	return n, err
}

// countReadings wants one snapshot, or nobody who packs.
func countReadings(ctx context.Context, q querier) (n int64, err error) {
	query := "SELECT count(*) FROM readings"
	has, err := hasBlocks(ctx, q)
	if has {
		query = `SELECT (SELECT coalesce(sum((SELECT count(*) FROM readings r WHERE r.probe = p.id AND
			` + looseOf("p.id") + `)), 0) FROM probes p) + (SELECT coalesce(sum(n), 0) FROM blocks)`
	}
	if err == nil {
		err = q.QueryRowContext(ctx, query).Scan(&n)
	}
	if err != nil {
		return 0, fmt.Errorf("store: count readings: %w", err)
	}
	return n, nil
}

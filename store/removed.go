package store

import (
	"database/sql"
	"encoding/hex"
	"fmt"
	"time"

	"flitch/process/evidence"
)

// Removals lists what was removed by a KeepRule, in the order of the journal.
func (db *DB) Removals() ([]evidence.Removal, error) {
	return list(db, "what was removed", func(rows *sql.Rows) (r evidence.Removal, err error) {
		err = rows.Scan(&r.Line, &r.Probe, &r.FirstSeq, &r.LastSeq, &r.FirstMeasured, &r.LastMeasured, &r.Rows)
		return r, err
	}, `SELECT r.line, p.name, r.first_seq, r.last_seq, r.first_measured, r.last_measured, r.n
		FROM removals r JOIN probes p ON p.id = r.probe ORDER BY r.line, r.probe, r.first_seq`)
}

// WasRemoved reports whether any of the readings of the probes measured from a time to another
// were removed, and when the last of them. A zero time: none were.
func (db *DB) WasRemoved(probes []string, from, to time.Time) (on time.Time, err error) {
	if len(probes) == 0 {
		return on, nil
	}
	args := []any{to.UnixMilli(), from.UnixMilli()}
	for _, name := range probes {
		args = append(args, name)
	}
	err = db.reader.QueryRowContext(background, `SELECT max(j.at) FROM removals r JOIN journal j ON j.seq = r.line
		WHERE r.first_measured <= ?1 AND r.last_measured >= ?2 AND r.probe IN (SELECT id FROM probes WHERE name IN `+several(len(probes))+")", args...).Scan(intoTime{&on})
	return on, err
}

// RemovedStrands are the strands of the seal on a line of the journal whose rows were removed.
func (db *DB) RemovedStrands(line int64) ([]evidence.Strand, error) {
	return list(db, "what was removed", func(rows *sql.Rows) (s evidence.Strand, err error) {
		var probe string
		var digest []byte
		err = rows.Scan(&probe, &s.Rows, &digest)
		s.Name, s.Digest = evidence.ProbeStrand(probe), hex.EncodeToString(digest)
		return s, err
	}, "SELECT p.name, s.n, s.digest FROM removed_strands s JOIN probes p ON p.id = s.probe WHERE s.seal = ? ORDER BY p.name", line)
}

// CheckRemoved returns an error for a strand without a removal, a removal whose strands are not as
// many readings, or readings where some were removed.
func (db *DB) CheckRemoved() error {
	return db.each("check what was removed", func(rows *sql.Rows) error {
		var probe string
		var first, n, found, left int64
		if err := rows.Scan(&probe, &first, &n, &found, &left); err != nil {
			return err
		}
		switch {
		case n != found:
			return fmt.Errorf("store: %d readings of probe %s are stated as removed, from number %d on, and the seals have lost %d", n, probe, first, found)
		case left > 0:
			return fmt.Errorf("store: %d blocks of probe %s are there that are stated as removed", left, probe)
		}
		return nil
	}, `WITH stated AS (SELECT probe, sum(n) AS n FROM removals GROUP BY probe),
		strands AS (SELECT probe, sum(n) AS n FROM removed_strands GROUP BY probe)
		SELECT p.name, coalesce((SELECT min(first_seq) FROM removals WHERE probe = p.id), 0), coalesce(stated.n, 0), coalesce(strands.n, 0),
			(SELECT count(*) FROM blocks b JOIN removals r ON r.probe = b.probe AND b.first_seq <= r.last_seq AND b.last_seq >= r.first_seq WHERE b.probe = p.id)
		FROM probes p LEFT JOIN stated ON stated.probe = p.id LEFT JOIN strands ON strands.probe = p.id`)
}

// SealedAt is when the seal was made that has so many newer ones; false: there are not so many.
func (db *DB) SealedAt(newer int) (at time.Time, found bool, err error) {
	lines, err := list(db, "seals", scanLine, journalQuery+" WHERE kind = '"+evidence.SealKind+"' ORDER BY seq DESC LIMIT 1 OFFSET ?", newer)
	if err != nil || len(lines) == 0 {
		return at, false, err
	}
	return lines[0].At, true, nil
}

// SealedBefore is when the newest seal was made that is not newer than that; false: there is none.
func (db *DB) SealedBefore(newest time.Time) (at time.Time, found bool, err error) {
	lines, err := list(db, "seals", scanLine, journalQuery+" WHERE kind = '"+evidence.SealKind+"' AND at <= ? ORDER BY seq DESC LIMIT 1", newest.UnixMilli())
	if err != nil || len(lines) == 0 {
		return at, false, err
	}
	return lines[0].At, true, nil
}

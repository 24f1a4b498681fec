package app

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"hash/crc32"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
	"flitch/store/block"
)

const days = 24 * time.Hour

// oldShop is a shop with a closed batch, and readings of a probe of it a month later.
func oldShop(t *testing.T) *shop {
	t.Helper()
	s := newShop(t)
	s.open()
	s.smallBatch()
	s.every(10*minute, 40*days, 40*days+6*time.Hour, func(time.Duration) { s.read("slow", 4.5); s.say("shop/spare", "4.5") })
	return s
}

// packed packs all that is sealed into small blocks.
func packed(t *testing.T, db *store.DB) (blocks int) {
	t.Helper()
	for p := db.NewPacker(4); ; blocks++ {
		if _, more, err := p.Next(t.Context()); err != nil {
			t.Fatal(err)
		} else if !more {
			return blocks
		}
	}
}

// papersOf is the record and the proof of the batch, as bytes.
func (s *shop) papersOf() string {
	s.t.Helper()
	var b bytes.Buffer
	r := &reader{app: s.app, site: s.app.site()}
	rec, err := r.Record(s.t.Context(), "PS-02")
	if err == nil {
		err = rec.JSON(&b)
	}
	if err == nil {
		err = r.Proof(s.t.Context(), "PS-02", &b)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return b.String()
}

// whatIsFound is the report of a database, without what is counted in blocks or removed.
func whatIsFound(t *testing.T, path string) (all, other string) {
	t.Helper()
	report, err := verify.Database(t.Context(), path, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range report {
		if f.What != "blocks" && f.What != "retention" {
			other += f.String() + "\n"
		}
	}
	if bad := report.First(); bad != nil {
		t.Errorf("%s", bad)
	}
	return lines(report), other
}

func (s *shop) removeBy(now time.Time) (removed []evidence.Removal) {
	s.t.Helper()
	s.app.cfg.Store = config.Store{KeepReadings: 30 * days, KeepBatches: 730 * days}
	rule, err := s.app.keepRule(now)
	if err != nil {
		s.t.Fatal(err)
	}
	due, err := s.app.db.Due(rule)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, d := range due {
		r, err := s.app.db.Remove(s.t.Context(), d, rule, now)
		if err != nil {
			s.t.Fatal(err)
		}
		removed = append(removed, r)
	}
	return removed
}

// A batch gives the same papers and the same report from rows, from blocks, and after readings
// round about it were removed; when its own time is over, verify says what is gone.
func TestABatchIsTheSameFromBlocksAndBesideWhatWasRemoved(t *testing.T) {
	s := oldShop(t)
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	before := s.papersOf()
	s.close()
	path := s.cfg.Site.Database
	_, report := whatIsFound(t, path)

	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	blocks := packed(t, db)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if all, got := whatIsFound(t, path); got != report || !strings.Contains(all, "blocks: ") {
		t.Errorf("from %d blocks the report is\n%s\nand was\n%s", blocks, all, report)
	}

	s.open()
	if got := s.papersOf(); got != before {
		t.Error("the papers are others from blocks")
	}
	kept, err := s.app.db.CountReadings()
	if err != nil {
		t.Fatal(err)
	}
	removed := s.removeBy(dawn.Add(80 * days))
	if got := s.papersOf(); got != before || len(removed) == 0 {
		t.Errorf("%d removals, and the papers are the same: %v", len(removed), got == before)
	}
	gone := int64(0)
	for _, r := range removed {
		gone += r.Rows
		if at := time.UnixMilli(r.FirstMeasured); at.Before(dawn.Add(4 * days)) {
			t.Errorf("%s: they are of the batch", r.Text())
		}
	}
	if left, err := s.app.db.CountReadings(); err != nil || left != kept-gone {
		t.Errorf("%d readings of %d are left, and %d were removed (%v)", left, kept, gone, err)
	}
	s.close()
	all, _ := whatIsFound(t, path)
	if !strings.Contains(all, "were removed by retention on") || !strings.Contains(all, "come out of the stored readings") {
		t.Errorf("verify does not say what was removed, or computes the batch no more:\n%s", all)
	}

	s.open()
	if len(s.removeBy(dawn.Add(1200*days))) == 0 {
		t.Error("nothing of the batch was removed after its time")
	}
	r := &reader{app: s.app, site: s.app.site()}
	if err := r.Proof(t.Context(), "PS-02", &bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), "nothing left to prove") {
		t.Errorf("a proof of what is gone: %v", err)
	}
	rec, err := r.Record(t.Context(), "PS-02")
	if err != nil || !strings.Contains(rec.SealWords(), "readings of it were removed on") {
		t.Errorf("the record does not say what is gone: %v", err)
	}
	s.close()
	if all, _ := whatIsFound(t, path); !strings.Contains(all, "cannot be computed anew") {
		t.Errorf("verify does not say that the batch is gone:\n%s", all)
	}
}

// What somebody does who wants to hide readings behind the rule, or removes them himself.
func TestARemovalThatNobodyOrderedIsFound(t *testing.T) {
	s := oldShop(t)
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	packed(t, s.app.db)
	if len(s.removeBy(dawn.Add(80*days))) == 0 {
		t.Fatal("nothing was removed")
	}
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	s.close()
	database := fileOf(t, s.cfg.Site.Database)
	made := 0
	for name, sql := range map[string]string{
		"a block that nobody removed":              "DELETE FROM blocks WHERE id = (SELECT id FROM blocks ORDER BY id LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM blocks))",
		"a block, and a statement without digests": "INSERT INTO removals SELECT (SELECT line FROM removals LIMIT 1), probe, first_seq, last_seq, first_measured, last_measured, n FROM blocks ORDER BY id LIMIT 1; DELETE FROM blocks WHERE id = (SELECT min(id) FROM blocks) AND ?1 >= 0",
		"no statement":                             "DELETE FROM removals WHERE ?1 >= 0",
		"another count":                            "UPDATE removals SET n = n + 1 WHERE ?1 >= 0",
		"other times":                              "UPDATE removals SET first_measured = first_measured - 1 WHERE ?1 >= 0",
		"another probe":                            "UPDATE removals SET probe = (SELECT max(id) FROM probes WHERE id <> removals.probe) WHERE ?1 >= 0 AND rowid = (SELECT min(rowid) FROM removals)",
		"a digest less":                            "DELETE FROM removed_strands WHERE seal = (SELECT min(seal) FROM removed_strands) AND ?1 >= 0",
		"another digest":                           "UPDATE removed_strands SET digest = randomblob(32) WHERE seal = (SELECT max(seal) FROM removed_strands) AND ?1 >= 0",
		"another line of the journal":              "UPDATE removals SET line = line - 1 WHERE ?1 >= 0",
		"the line says less":                       "UPDATE journal SET text = replace(text, ' readings of', '0 readings of') WHERE kind = 'readings removed' AND ?1 >= 0",
		"a byte of a block":                        "UPDATE blocks SET body = CAST(substr(body, 1, 40) || x'00' || substr(body, 42) AS BLOB) WHERE id = (SELECT max(id) FROM blocks) AND ?1 >= 0",
		"a checksum":                               "UPDATE blocks SET sum = sum + 1 WHERE id = (SELECT min(id) FROM blocks) AND ?1 >= 0",
		"a block of another probe":                 "UPDATE blocks SET probe = (SELECT max(id) FROM probes WHERE id <> blocks.probe) WHERE id = (SELECT min(id) FROM blocks) AND ?1 >= 0",
		"a block that says other times":            "UPDATE blocks SET last_measured = last_measured + 1 WHERE id = (SELECT min(id) FROM blocks) AND ?1 >= 0",
		"a block that says fewer":                  "UPDATE blocks SET n = n - 1 WHERE n > 1 AND ?1 >= 0",
		"the parts of two blocks":                  "UPDATE blocks SET body = (SELECT body FROM blocks b WHERE b.id <> blocks.id LIMIT 1) WHERE id = (SELECT min(id) FROM blocks) AND ?1 >= 0",
		"a row behind a block":                     "INSERT INTO readings (seq, probe, measured, value, received) SELECT first_seq, probe, first_measured - 1, 3, first_measured FROM blocks WHERE n > 1 AND ?1 >= 0 LIMIT 1",
		"the guard of blocks":                      "SELECT ?1; DROP TRIGGER blocks_no_delete",
	} {
		path := filepath.Join(t.TempDir(), "forged.db")
		write(t, path, database)
		forge(t, path, sql, int64(made))
		made++
		text := found(context.Background(), path, "")
		if text == "" {
			t.Errorf("%s: not found", name)
		}
		t.Logf("%-42s %.150s", name, text)
	}
	t.Logf("%d changes", made)
}

// Who packs other values with a right checksum is found by the seals.
func TestAnotherValueInABlockIsFound(t *testing.T) {
	s := oldShop(t)
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	packed(t, s.app.db)
	s.close()
	database, path := fileOf(t, s.cfg.Site.Database), filepath.Join(t.TempDir(), "forged.db")
	for name, change := range map[string]func(*block.Row){
		"value":    func(r *block.Row) { r.Value += 0.01 },
		"no value": func(r *block.Row) { r.Value = math.NaN() },
		"received": func(r *block.Row) { r.Received-- },
		"mark":     func(r *block.Row) { r.Mark = &block.Mark{Quality: 2, Reason: "spike"} },
		"measured": func(r *block.Row) { r.Measured++ },
	} {
		write(t, path, database)
		repack(t, path, change)
		if text := found(t.Context(), path, ""); !strings.HasPrefix(text, "seals: ") {
			t.Errorf("%s: %q", name, text)
		}
	}
}

// repack changes a reading in the middle of a block, as somebody who has read the source.
func repack(t *testing.T, path string, change func(*block.Row)) {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var head [6]int64
	var id int64
	var body []byte
	err = db.QueryRow("SELECT id, probe, first_seq, last_seq, first_measured, last_measured, n, body FROM blocks WHERE n > 2 ORDER BY id LIMIT 1").
		Scan(&id, &head[0], &head[1], &head[2], &head[3], &head[4], &head[5], &body)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := block.Decode(body)
	if err == nil {
		change(&rows[1])
		body, err = block.Encode(rows)
	}
	if err != nil {
		t.Fatal(err)
	}
	var summed []byte
	for _, v := range head {
		summed = binary.BigEndian.AppendUint64(summed, uint64(v))
	}
	sum := crc32.Checksum(append(summed, body...), crc32.MakeTable(crc32.Castagnoli))
	_, err = db.Exec(`DROP TRIGGER blocks_no_update; UPDATE blocks SET body = ?, sum = ? WHERE id = ?;
		CREATE TRIGGER blocks_no_update BEFORE UPDATE ON blocks
BEGIN SELECT RAISE (ABORT, 'blocks are never changed'); END`, body, int64(sum), id)
	if err != nil {
		t.Fatal(err)
	}
}

// Who has no rule removes nothing; with one, nothing before the clock was steady for a week.
func TestNothingIsRemovedWithoutARuleOrASteadyClock(t *testing.T) {
	s := oldShop(t)
	if err := s.app.seals.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	packed(t, s.app.db)
	s.at(90 * days)
	count := func() int {
		t.Helper()
		if err := s.app.removeOld(t.Context()); err != nil {
			t.Fatal(err)
		}
		all, err := s.app.db.Removals()
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	if n := count(); n != 0 {
		t.Errorf("without a rule: %d removals", n)
	}
	s.app.cfg.Store = config.Store{KeepReadings: 30 * days}
	if n := count(); n != 0 {
		t.Errorf("with %d seals since: %d removals", steadySeals, n)
	}
	s.sealsFor(t, steadySeals, dawn.Add(74*days), time.Second) // over what waited long
	if n := count(); n != 0 {
		t.Errorf("with a thousand seals of one evening: %d removals", n)
	}
	s.sealsFor(t, 3, dawn.Add(75*days), days)
	if n := count(); n != 0 {
		t.Errorf("with four days more: %d removals", n)
	}
	s.sealsFor(t, steadySeals, dawn.Add(80*days), 10*minute)
	if n := count(); n == 0 {
		t.Error("after a week: none")
	}
	all, err := s.app.db.Removals()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range all {
		if time.UnixMilli(r.FirstMeasured).Before(dawn.Add(39 * days)) {
			t.Errorf("%s: batches are kept for ever", r.Text())
		}
	}
	if config.LeastReadings != evidence.LeastKept {
		t.Errorf("configuration allows %v and verify takes %v", config.LeastReadings, evidence.LeastKept)
	}
}

// sealsFor puts so many seals over a tick each.
func (s *shop) sealsFor(t *testing.T, n int, from time.Time, every time.Duration) {
	t.Helper()
	err := s.app.db.Update(func(tx *store.Tx) error {
		for i := range n + 1 {
			at := from.Add(time.Duration(i) * every)
			seq, err := tx.AppendTick(at)
			if err != nil {
				return err
			}
			var rows evidence.Sealer
			rows.Take(&evidence.Row{Seq: seq, Kind: process.InputTick, At: tx.TakenAt(at).UnixMilli()})
			line := process.JournalLine{At: at, Kind: evidence.SealKind, By: "flitch", Text: rows.Seal(seq, seq).Text()}
			if _, err := tx.AppendSigned(line, nil); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func fileOf(t *testing.T, path string) []byte {
	t.Helper()
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return file
}

func write(t *testing.T, path string, file []byte) {
	t.Helper()
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
}

package app

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// inDatabase are changes that somebody makes who has the file and SQLite, takes off what
// guards the rows, and puts it back afterwards. A ? is a number by chance.
var inDatabase = []struct {
	name  string
	times int
	sql   string
}{
	{"another value", 20, "UPDATE readings SET value = value + 0.01 WHERE seq = (SELECT seq FROM readings ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings))"},
	{"a value that is none", 10, "UPDATE readings SET value = NULL WHERE seq = (SELECT seq FROM readings ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings))"},
	{"a reading at an earlier time", 20, "UPDATE readings SET measured = measured - 1 - ?1 % 1000 WHERE seq = (SELECT seq FROM readings ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings))"},
	{"a reading received earlier", 10, "UPDATE readings SET received = received - 1 WHERE seq = (SELECT seq FROM readings ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings))"},
	{"drop a reading", 20, "DELETE FROM readings WHERE seq = (SELECT seq FROM readings ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings))"},
	{"a reading of another probe", 10, "UPDATE readings SET probe = (SELECT id FROM probes WHERE id <> probe ORDER BY id LIMIT 1), measured = measured + 1 WHERE seq = (SELECT seq FROM readings ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings))"},
	{"the probes change names", 3, "UPDATE probes SET name = CASE name WHEN 'core' THEN 'chamber' WHEN 'chamber' THEN 'core' ELSE name END || '!'; UPDATE probes SET name = rtrim(name, '!')"},
	{"two readings change places", 10, `CREATE TEMP TABLE pair AS SELECT seq, lead(seq, 1, 0) OVER (ORDER BY seq) + lag(seq, 1, 0) OVER (ORDER BY seq) AS other
			FROM (SELECT seq FROM readings ORDER BY seq LIMIT 2 OFFSET ?1 % ((SELECT count(*) FROM readings) - 1));
		UPDATE readings SET seq = seq + 1000000000 WHERE seq IN (SELECT seq FROM pair);
		UPDATE readings SET seq = (SELECT other FROM pair WHERE pair.seq = readings.seq - 1000000000) WHERE seq >= 1000000000`},
	{"a reading put in with a number that was free, or before all", 5, "INSERT INTO readings (seq, probe, measured, value, received) SELECT 0 - ?1 % 3, min(probe), min(measured) - 1, 3, min(measured) FROM readings"},
	{"a reading left out by a mark", 10, "INSERT INTO reading_marks (seq, quality, reason, raw) SELECT seq, 2, 'spike', '' FROM readings WHERE seq NOT IN (SELECT seq FROM reading_marks) ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM readings WHERE seq NOT IN (SELECT seq FROM reading_marks))"},
	{"a mark without a reading", 3, "INSERT INTO reading_marks (seq, quality, reason, raw) VALUES (1000000 + ?1, 2, 'spike', '')"},
	{"drop a tick", 5, "DELETE FROM ticks WHERE seq = (SELECT seq FROM ticks ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM ticks))"},
	{"a tick at an earlier time", 5, "UPDATE ticks SET at = at - 1 WHERE seq = (SELECT seq FROM ticks ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM ticks))"},
	{"drop what was said", 10, "DELETE FROM commands WHERE seq = (SELECT seq FROM commands ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM commands))"},
	{"what was said at another time", 10, "UPDATE commands SET at = at - 1 WHERE seq = (SELECT seq FROM commands ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM commands))"},
	{"another note", 3, "UPDATE commands SET body = replace(body, 'wind', 'sun ') WHERE body LIKE '%wind%' AND ?1 >= 0"},
	{"another plan", 3, "UPDATE commands SET body = replace(body, '\"limit_min\":', '\"limit_min\":1') WHERE body LIKE '%limit_min%' AND ?1 >= 0"},
	{"another time typed", 5, "UPDATE commands SET body = json_set(body, '$.typed', '2031-05-01T00:00:00Z') WHERE seq = (SELECT seq FROM commands ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM commands))"},
	{"said by another", 5, "UPDATE commands SET body = json_set(body, '$.by', 'M.O.') WHERE seq = (SELECT seq FROM commands ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM commands))"},
	{"said of another batch", 3, "UPDATE commands SET batch = 'PS-03' WHERE seq = (SELECT seq FROM commands ORDER BY seq LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM commands))"},
	{"drop a line of the journal", 10, "DELETE FROM journal WHERE seq = 1 + ?1 % (SELECT max(seq) FROM journal)"},
	{"another text in the journal", 10, "UPDATE journal SET text = text || '.' WHERE seq = 1 + ?1 % (SELECT max(seq) FROM journal)"},
	{"another time in the journal", 5, "UPDATE journal SET at = at - 1 WHERE seq = 1 + ?1 % (SELECT max(seq) FROM journal)"},
	{"another hash in the journal", 5, "UPDATE journal SET hash = printf('%064x', ?1) WHERE seq = 1 + ?1 % (SELECT max(seq) FROM journal)"},
	{"drop a signature", 10, "DELETE FROM signatures WHERE line = (SELECT line FROM signatures ORDER BY line LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM signatures))"},
	{"another signature", 10, "UPDATE signatures SET signature = randomblob(64) WHERE line = (SELECT line FROM signatures ORDER BY line LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM signatures))"},
	{"another key at a signature", 5, "UPDATE signatures SET key = randomblob(32) WHERE line = (SELECT line FROM signatures ORDER BY line LIMIT 1 OFFSET ?1 % (SELECT count(*) FROM signatures))"},
	{"drop the batch", 1, "DELETE FROM batches WHERE ?1 >= 0"},
	{"a batch open again", 1, "UPDATE batches SET status = 'open' WHERE ?1 >= 0"},
	{"another plan in the batch", 1, "UPDATE batches SET state = CAST(replace(CAST(state AS TEXT), '\"limit_min\":', '\"limit_min\":1') AS BLOB) WHERE ?1 >= 0"},
	{"another note in the batch", 1, "UPDATE batches SET state = CAST(replace(CAST(state AS TEXT), 'wind', 'sun ') AS BLOB) WHERE ?1 >= 0"},
	{"no guard against changes", 1, "SELECT ?1; DROP TRIGGER readings_no_update"},
}

// sealedShop is a database with a closed batch, all of it sealed.
func sealedShop(t *testing.T) (database []byte, path string) {
	s := newShop(t)
	s.open()
	s.smallBatch()
	s.close()
	path = s.cfg.Site.Database
	report, err := verify.Database(t.Context(), path, "")
	if err != nil || report.First() != nil || strings.Contains(lines(report), "not yet sealed") {
		t.Fatalf("%v\n%s", err, lines(report))
	}
	database, err = os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return database, path
}

// found says what verify finds in a database; empty: nothing.
func found(ctx context.Context, path, key string) string {
	report, err := verify.Database(ctx, path, key)
	if err != nil {
		return err.Error()
	}
	if bad := report.First(); bad != nil {
		return bad.What + ": " + bad.Text
	}
	return ""
}

func TestEveryChangeInADatabaseIsFound(t *testing.T) {
	t.Parallel()
	database, _ := sealedShop(t)
	path := filepath.Join(t.TempDir(), "forged.db")
	chance := rand.New(rand.NewPCG(7, 2))
	made := 0
	for _, kind := range inDatabase {
		example := ""
		for range kind.times {
			if err := os.WriteFile(path, database, 0o600); err != nil {
				t.Fatal(err)
			}
			forge(t, path, kind.sql, chance.Int64N(1_000_000))
			made++
			if example = found(t.Context(), path, ""); example == "" {
				t.Errorf("%s: not found", kind.name)
			}
		}
		t.Logf("%3d × %-45s such as %.170s", kind.times, kind.name, example)
	}
	t.Logf("%d changes", made)
}

// forge runs the statements with the triggers off, and puts them back as they were.
func forge(t *testing.T, path, statements string, n int64) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	var guards []string
	rows, err := db.Query("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
	if err != nil {
		t.Fatal(err)
	}
	drop := ""
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			t.Fatal(err)
		}
		guards, drop = append(guards, text), drop+"DROP TRIGGER "+name+";"
	}
	rows.Close()
	keep := strings.Contains(statements, "DROP TRIGGER")
	if keep {
		drop, guards = "", nil
	}
	before := touched(t, db)
	for i, q := range append(append([]string{drop}, strings.Split(statements, ";")...), guards...) {
		var args []any
		if strings.Contains(q, "?1") {
			args = []any{n}
		}
		if strings.TrimSpace(q) == "" {
			continue
		}
		if _, err := db.Exec(q, args...); err != nil {
			t.Fatalf("statement %d, %s: %v", i, q, err)
		}
	}
	if touched(t, db) == before && !keep {
		t.Fatalf("%s changed nothing", statements)
	}
	if _, err := db.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
}

func touched(t *testing.T, db *sql.DB) (n int64) {
	t.Helper()
	if err := db.QueryRow("SELECT total_changes()").Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// ids stand in the log. Batches of older versions are stored without, so that one which is missing
// beside them is no fault.
var ids = regexp.MustCompile(`"id":"[^"]*",?`)

// heldBy is everything that is under the seals, the signatures or computed anew: what a flipped
// byte may not change unseen.
func heldBy(ctx context.Context, path string) (out []byte, err error) {
	db, err := store.OpenBeside(path)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	err = db.EachRow(ctx, -1<<62, 1<<62, func(r *evidence.Row) error { out = r.Append(out); return nil })
	if err != nil {
		return nil, err
	}
	err = db.EachLine(0, 0, func(l process.JournalLine) error { out = fmt.Appendln(out, l); return nil })
	if err != nil {
		return nil, err
	}
	signed, err := db.Signatures(0, 1<<62)
	if err != nil {
		return nil, err
	}
	batches, err := db.Batches()
	for _, row := range batches {
		b := new(process.Batch)
		if err := json.Unmarshal(row.State, b); err != nil {
			return nil, err
		}
		clocks, err := json.Marshal(b.Clocks(b.Now))
		if err != nil {
			return nil, err
		}
		said, err := json.Marshal([]any{b.Stages, b.Turns, b.Hand, b.Notes, b.By})
		if err != nil {
			return nil, err
		}
		out = fmt.Appendln(out, row.ID, row.Status, row.Started, string(clocks), string(ids.ReplaceAll(said, nil)))
	}
	return fmt.Appendln(out, signed), err
}

// A bit of the file is flipped, 300 times. Either it is found, or, by the rule, nothing that
// is held depends on it: it lies in a page that is not in use, in the room a page leaves free,
// in a counter of SQLite's own, or in a table that stands under no seal (what was sent to
// phones, the state of alarms and places, what could not be read).
func TestEveryByteOfADatabaseIsFoundOrHoldsNothing(t *testing.T) {
	t.Parallel()
	database, path := sealedShop(t)
	want, err := heldBy(t.Context(), path)
	if err != nil || len(want) < 10_000 {
		t.Fatalf("%d bytes, %v", len(want), err)
	}
	chance := rand.New(rand.NewPCG(7, 3))
	forged := filepath.Join(t.TempDir(), "forged.db")
	seen, empty := 0, 0
	for range 300 {
		at := chance.IntN(len(database))
		file := bytes.Clone(database)
		file[at] ^= byte(1 << chance.IntN(8))
		if err := os.WriteFile(forged, file, 0o600); err != nil {
			t.Fatal(err)
		}
		if found(t.Context(), forged, "") != "" {
			seen++
			continue
		}
		got, err := heldBy(t.Context(), forged)
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("a flipped bit at byte %d of %d was not found, and changes what is held (%v)", at, len(database), err)
		}
		empty++
	}
	t.Logf("300 bits of %d bytes: %d found, %d on which nothing that is held depends", len(database), seen, empty)
	if seen < 40 {
		t.Errorf("only %d were found: the test shows little", seen)
	}
}

// Who has the whole file and no key can make the chain anew, and signs it with another.
func TestAChainMadeAnewIsFoundByTheKey(t *testing.T) {
	s := newShop(t)
	s.open()
	s.smallBatch()
	before := s.proves("PS-02", s.app.RecordKey())
	s.close()
	path := s.cfg.Site.Database
	database, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if report, err := verify.Against(path, bytes.NewReader(before), ""); err != nil || report.First() != nil {
		t.Errorf("against its own proof: %v\n%s", err, lines(report))
	}
	key, err := os.ReadFile(KeyFile(path))
	if err != nil {
		t.Fatal(err)
	}
	given, err := ParsePublicKey(key)
	if err != nil {
		t.Fatal(err)
	}
	forged := filepath.Join(t.TempDir(), "forged.db")
	if err := os.WriteFile(forged, database, 0o600); err != nil {
		t.Fatal(err)
	}
	forge(t, forged, "UPDATE readings SET value = 3 WHERE value > 4 AND value < 5 AND ?1 >= 0; DELETE FROM journal; DELETE FROM signatures", 1)
	mine := ed25519.NewKeyFromSeed(make([]byte, 32))
	db, err := store.Open(forged)
	if err != nil {
		t.Fatal(err)
	}
	desk := &sealDesk{db: db, now: Wall{}.Now, key: mine}
	if err := desk.seal(t.Context()); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if bad := found(t.Context(), forged, ""); bad != "" {
		t.Errorf("without the key a chain made anew is one like any other, and it says %s", bad)
	}
	if report, err := verify.Against(forged, bytes.NewReader(before), ""); err != nil || report.First() == nil {
		t.Errorf("a proof that was given away before does not give it away: %v\n%s", err, lines(report))
	}
	if bad := found(t.Context(), forged, given); !strings.Contains(bad, "you gave "+given) {
		t.Errorf("with the key: %q", bad)
	}
}

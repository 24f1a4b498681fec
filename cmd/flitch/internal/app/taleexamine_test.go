package app

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// An outcome is what a tale left behind.
type outcome struct {
	written  story
	rows     map[string]int // readings by probe and time
	received []ring
	records  map[string][]byte
}

// examine opens what a tale left behind, and holds it against the promises.
func (s *tale) examine() (out outcome, faults []string) {
	s.t.Helper()
	say := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	db, err := store.Open(s.database())
	if err != nil {
		return out, []string{err.Error()}
	}
	defer db.Close()
	if err := db.Check(); err != nil {
		say("integrity: %v", err)
	}
	if err := db.VerifyJournal(); err != nil {
		say("journal: %v", err)
	}
	out = outcome{written: written(s.t, db), rows: rowsOf(s.t, db), received: s.phone.all(), records: s.records}
	if row, found, err := db.Batch("PS-02"); found && err == nil {
		out.written["batch PS-02"] = string(row.State) // closed, and no part of what is loaded at a start
	}
	faults = append(faults, s.readings(out.rows)...)
	faults = append(faults, compareMessages(messages(s.t, db), out.received, s.cutAt)...)
	faults = append(faults, cursors(s.t, db)...)
	c, err := config.Load(s.config())
	if err != nil {
		say("configuration: %v", err)
		return out, faults
	}
	for _, fault := range compareStories(out.written, retell(s.t, db, c)) {
		say("the log, told again: %s", fault)
	}
	return out, append(faults, s.files()...)
}

// rowsOf counts the readings of each probe and time.
func rowsOf(t *testing.T, db *store.DB) map[string]int {
	t.Helper()
	rows := map[string]int{}
	for _, probe := range []string{"slow", "chamber", "core", "grate"} {
		err := db.EachReading([]string{probe}, time.Time{}, time.Time{}, func(_ int64, r process.Reading) error {
			rows[fmt.Sprintf("%s %d", probe, r.Measured.UnixMilli())]++
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return rows
}

// readings: what was acknowledged is a row, once, and nothing else is.
func (s *tale) readings(rows map[string]int) (faults []string) {
	for key := range s.acked {
		if key != "rubbish" && rows[key] != 1 {
			faults = append(faults, fmt.Sprintf("reading %s was acknowledged and stands %d times", key, rows[key]))
		}
	}
	for key, n := range rows {
		if _, said := s.acked[key]; !said || n != 1 {
			faults = append(faults, fmt.Sprintf("reading %s stands %d times, and was acknowledged: %v", key, n, said))
		}
	}
	return faults
}

// cursors: everything is evaluated, and nothing that is not there.
func cursors(t *testing.T, db *store.DB) (faults []string) {
	t.Helper()
	saved, err := engineStore{DB: db}.Load()
	if err != nil {
		t.Fatal(err)
	}
	newest, last := int64(0), db.LastSeq()
	for _, p := range saved.Places {
		newest = max(newest, p.Cursor)
	}
	for _, b := range saved.Batches {
		if b.Cursor > last {
			faults = append(faults, fmt.Sprintf("batch %s is evaluated up to %d, the log ends at %d", b.ID, b.Cursor, last))
		}
	}
	if newest != last {
		faults = append(faults, fmt.Sprintf("evaluated up to %d, the log ends at %d", newest, last))
	}
	return faults
}

// files: each that has its name is whole, and nothing lies about.
func (s *tale) files() (faults []string) {
	say := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	copies, err := backup.List(filepath.Join(s.dir, "stick"))
	if err != nil || len(copies) == 0 {
		say("%d backups: %v", len(copies), err)
	}
	for _, c := range copies {
		if _, err := backup.Examine(c.Folder); err != nil {
			say("backup %s: %v", c.Folder, err)
		}
	}
	key, _, err := PublicKey(s.database())
	if err != nil {
		say("key: %v", err)
		return faults
	}
	report, err := verify.Database(s.t.Context(), s.database(), evidence.Fingerprint(key))
	if err != nil || report.First() != nil {
		say("verify: %v\n%s", err, lines(report))
	}
	for _, name := range s.names() {
		if !s.belongs(name) {
			say("left behind: %s", name)
		}
	}
	return faults
}

// names lists all files and folders, below the tale's.
func (s *tale) names() (all []string) {
	s.t.Helper()
	err := filepath.WalkDir(s.dir, func(path string, _ os.DirEntry, err error) error {
		name, _ := filepath.Rel(s.dir, path)
		all = append(all, name)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return all
}

var known = regexp.MustCompile(`^(\.|flitch\.toml|flitch\.probes\.toml|stick|stick/flitch-[0-9T]+Z(/flitch\.(db|toml|probes\.toml))?|flitch\.db(-wal|-shm|\.lock|\.record\.key|\.key)?)$`)

func (s *tale) belongs(name string) bool { return known.MatchString(name) }

// compare holds the outcome of a tale with a kill against that of one without: same
// story, same readings, same messages in the same order, same record.
func (a outcome) compare(b outcome) (faults []string) {
	faults = compareStories(a.written, b.written)
	for key := range b.rows {
		if a.rows[key] == 0 {
			faults = append(faults, "reading "+key+" is missing")
		}
	}
	first := map[int64]bool{}
	var once []ring
	for _, r := range a.received {
		if !first[r.Message] {
			first[r.Message] = true
			once = append(once, r)
		}
	}
	if len(once) != len(b.received) {
		faults = append(faults, fmt.Sprintf("%d messages, without a kill %d", len(once), len(b.received)))
	}
	for i := range min(len(once), len(b.received)) {
		if x, y := once[i], b.received[i]; x.Message != y.Message || x.Alarm != y.Alarm || x.title() != y.title() || linkless(x.Text) != linkless(y.Text) {
			faults = append(faults, fmt.Sprintf("message %d: %+v, without a kill %+v", i+1, x, y))
		}
	}
	return faults
}

var (
	link    = regexp.MustCompile(`https?://\S+`)
	marking = regexp.MustCompile(`\s*This may be a repeat[^\n]*`)
)

func linkless(text string) string {
	return marking.ReplaceAllString(link.ReplaceAllString(text, ""), "")
}

// compareRecords holds what was exported against it, but for the part that says when and by what
// it was made, and the number and hash of the journal's last line: a start more is a seal more,
// and each installation has a key of its own.
func (a outcome) compareRecords(t *testing.T, b outcome) (faults []string) {
	for format, text := range b.records {
		x, y := unchained(t, format, a.records[format]), unchained(t, format, text)
		if x != y {
			was, is := apart(y, x)
			faults = append(faults, "record."+format+" differs\n  without a kill: "+was+"\n  with one:       "+is)
		}
	}
	return faults
}

func unchained(t *testing.T, format string, text []byte) string {
	t.Helper()
	if format != "json" {
		return string(inside(t, format, text))
	}
	var all any
	if err := json.Unmarshal(text, &all); err != nil {
		t.Fatalf("record.json: %v", err)
	}
	left := without(all, "outside_the_hash", "journal")
	without(all, "attempts") // of a message: one was cut off
	again, err := json.Marshal(all)
	if err != nil || left != 2 {
		t.Fatalf("record.json has %d of the two marks: %v", left, err)
	}
	return string(again)
}

// without takes keys out of all objects, and counts them.
func without(v any, keys ...string) (n int) {
	switch v := v.(type) {
	case map[string]any:
		for _, key := range keys {
			switch v[key].(type) {
			case map[string]any, float64:
				delete(v, key)
				n++
			}
		}
		for _, part := range v {
			n += without(part, keys...)
		}
	case []any:
		for _, part := range v {
			n += without(part, keys...)
		}
	}
	return n
}

// number reads a size from the environment.
func sizeFrom(t *testing.T, name string, otherwise int) int {
	t.Helper()
	text := strings.TrimSpace(os.Getenv(name))
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%s: a number from 1 on is wanted", name, text)
	}
	return n
}

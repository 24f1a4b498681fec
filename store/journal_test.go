package store

import (
	"errors"
	"fmt"
	"os/exec"
	"reflect"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// TestJournalHashCanBeRedone follows the doc comment of JournalHash with a tool
// that is not ours: coreutils' sha256sum.
func TestJournalHashCanBeRedone(t *testing.T) {
	line := process.JournalLine{Seq: 1, At: time.Unix(0, 0), Kind: "note", Text: "hi"}
	out, err := exec.Command("sh", "-c", `printf '1:1,1:0,0:,4:note,0:,2:hi,0:,' | sha256sum`).Output()
	if err != nil {
		t.Fatal(err)
	}
	if want := strings.Fields(string(out))[0]; JournalHash(line) != want {
		t.Errorf("JournalHash %s, sha256sum %s", JournalHash(line), want)
	}
}

// TestJournalHashCoversEveryField changes one field at a time, and moves text
// across the border of two fields.
func TestJournalHashCoversEveryField(t *testing.T) {
	base := process.JournalLine{Seq: 12, At: noon, Batch: "OL-1", Kind: "turned", By: "ok", Text: "é", Prev: "ab", Hash: "x"}
	edits := map[string]func(*process.JournalLine){
		"seq":   func(l *process.JournalLine) { l.Seq++ },
		"at":    func(l *process.JournalLine) { l.At = l.At.Add(time.Millisecond) },
		"batch": func(l *process.JournalLine) { l.Batch = "OL-2" },
		"kind":  func(l *process.JournalLine) { l.Kind = "note" },
		"by":    func(l *process.JournalLine) { l.By = "" },
		"text":  func(l *process.JournalLine) { l.Text = "e" },
		"prev":  func(l *process.JournalLine) { l.Prev = "" },
		"moved": func(l *process.JournalLine) { l.Batch, l.Kind = "OL-1t", "urned" },
	}
	seen := map[string]string{JournalHash(base): "base"}
	for name, edit := range edits {
		l := base
		edit(&l)
		if other, taken := seen[JournalHash(l)]; taken {
			t.Errorf("%s has the hash of %s", name, other)
		}
		seen[JournalHash(l)] = name
	}
	same := base
	same.Hash, same.At = "y", base.At.In(time.FixedZone("", 3600)).Add(999*time.Microsecond)
	if JournalHash(same) != JournalHash(base) {
		t.Error("the zone, parts of a millisecond or the hash itself count")
	}
}

// journalOf three lines, in two transactions.
func journalOf(t *testing.T, db *DB) []process.JournalLine {
	t.Helper()
	lines := []process.JournalLine{
		{At: noon, Batch: "OL-1", Kind: "stage", By: "ok", Text: "cure begins"},
		{At: noon.Add(time.Second), Kind: "alarm", Text: "fridge alder: 8.2 °C\x00 and 'quoted'"},
		{At: noon.Add(2 * time.Second), Batch: "OL-1", Kind: "turned", Text: ""},
	}
	update(t, db, func(tx *Tx) error { return errors.Join(tx.AppendJournal(lines[0]), tx.AppendJournal(lines[1])) })
	update(t, db, func(tx *Tx) error { return tx.AppendJournal(lines[2]) })
	return lines
}

func TestJournalIsAChain(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	if err := db.VerifyJournal(); err != nil {
		t.Errorf("empty journal: %v", err)
	}
	want := journalOf(t, db)
	prev := ""
	for i := range want {
		want[i].Seq, want[i].Prev = int64(i+1), prev
		want[i].Hash = JournalHash(want[i])
		prev = want[i].Hash
	}
	db.Close()
	db = open(t, path)
	if got := must[[]process.JournalLine](t)(db.Journal("")); !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
	if got := must[[]process.JournalLine](t)(db.Journal("OL-1")); !reflect.DeepEqual(got, []process.JournalLine{want[0], want[2]}) {
		t.Errorf("of OL-1: %+v", got)
	}
	if seq, hash, err := db.JournalHead(); err != nil || seq != 3 || hash != prev {
		t.Errorf("head %d %s %v, want 3 %s", seq, hash, err, prev)
	}
	if err := db.VerifyJournal(); err != nil {
		t.Error(err)
	}
}

// TestJournalEditIsFound edits the file as somebody would who knows SQLite, with
// the triggers dropped.
func TestJournalEditIsFound(t *testing.T) {
	for _, c := range []struct {
		name, edit string
		line       int64 // zero: the edit must go unnoticed
	}{
		{"control, nothing changed", "UPDATE journal SET text = text", 0},
		{"one byte of text", "UPDATE journal SET text = replace(text, 'cure', 'cUre') WHERE seq = 1", 1},
		{"time", "UPDATE journal SET at = at + 1 WHERE seq = 2", 2},
		{"who", "UPDATE journal SET by = 'zz' WHERE seq = 3", 3},
		{"hash", "UPDATE journal SET hash = 'x' || hash WHERE seq = 3", 3},
		{"line dropped", "DELETE FROM journal WHERE seq = 2", 2},
		{"first line dropped", "DELETE FROM journal WHERE seq = 1", 1},
		{"dropped and closed up", "DELETE FROM journal WHERE seq = 2; UPDATE journal SET seq = 2 WHERE seq = 3", 2},
		{"batch swapped", "UPDATE journal SET batch = '' WHERE seq = 1", 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := newPath(t)
			db := open(t, path)
			journalOf(t, db)
			drop := "DROP TRIGGER journal_no_update; DROP TRIGGER journal_no_delete; "
			if _, err := raw(t, path).Exec(drop + c.edit); err != nil {
				t.Fatal(err)
			}
			err := db.VerifyJournal()
			if c.line == 0 {
				if err != nil {
					t.Errorf("VerifyJournal: %v", err)
				}
				return
			}
			var bad *BadLine
			if !errors.As(err, &bad) || bad.Seq != c.line || !strings.Contains(err.Error(), fmt.Sprintf("line %d:", c.line)) {
				t.Errorf("VerifyJournal: %v, want line %d", err, c.line)
			}
		})
	}
}

// TestRehashedLineIsFound changes a line and gives it the hash it ought to have:
// the line after it does not follow any more.
func TestRehashedLineIsFound(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	journalOf(t, db)
	line := must[[]process.JournalLine](t)(db.Journal(""))[1]
	line.Text = "fridge alder: 4.2 °C"
	_, err := raw(t, path).Exec("DROP TRIGGER journal_no_update; UPDATE journal SET text = ?, hash = ? WHERE seq = 2",
		line.Text, JournalHash(line))
	if err != nil {
		t.Fatal(err)
	}
	var bad *BadLine
	if err := db.VerifyJournal(); !errors.As(err, &bad) || bad.Seq != 3 {
		t.Errorf("VerifyJournal: %v, want line 3", err)
	}
}

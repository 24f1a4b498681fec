package store

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"flitch/process"
)

// A copy made while readings are stored is one moment of the log, whole, and the writer is
// not held up by it.
func TestABackupBesideAWriterIsOneMoment(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 20_000)...)
	ctx, stop := context.WithCancel(t.Context())
	var writing sync.WaitGroup
	writing.Go(func() {
		for i := 20_000; ctx.Err() == nil; i += 10 {
			if _, err := db.CommitIntake(plains(i, 10), nil); err != nil {
				t.Error(err)
				return
			}
		}
	})
	before := db.LastSeq()
	path := filepath.Join(t.TempDir(), "copy.db")
	got, err := db.Backup(t.Context(), path)
	stop()
	writing.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if got.LastSeq < before || got.Readings < 20_000 || got.Bytes == 0 {
		t.Errorf("%+v, want what there was at its beginning, number %d", got, before)
	}
	if db.LastSeq() == before {
		t.Error("nothing was written meanwhile: the test shows nothing")
	}
	again, err := Examine(path)
	if err != nil || again != got {
		t.Errorf("examined anew %+v, %v, want %+v", again, err, got)
	}
	if left, _ := filepath.Glob(path + "?*"); len(left) > 0 {
		t.Errorf("files beside the copy: %q", left)
	}
}

// It opens as a database, and takes more.
func TestABackupIsADatabase(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 100)...)
	if err := db.Update(func(tx *Tx) error {
		return tx.AppendJournal(process.JournalLine{At: time.UnixMilli(1), Kind: "note", Text: "hi"})
	}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "copy.db")
	if _, err := db.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	copied, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	commit(t, copied, plains(100, 10)...)
	if n := must[int64](t)(copied.CountReadings()); n != 110 {
		t.Errorf("%d readings, want 110", n)
	}
	if n := must[int64](t)(db.CountReadings()); n != 100 {
		t.Errorf("the first has %d readings, want its 100", n)
	}
}

func TestABackupReplacesNothing(t *testing.T) {
	db := newDB(t)
	path := filepath.Join(t.TempDir(), "copy.db")
	if err := os.WriteFile(path, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Backup(t.Context(), path); !errors.Is(err, fs.ErrExist) {
		t.Errorf("%v, want fs.ErrExist", err)
	}
	if kept, err := os.ReadFile(path); err != nil || string(kept) != "mine" {
		t.Errorf("%q, %v", kept, err)
	}
}

// One that was given up leaves nothing that could be taken for a backup.
func TestABackupThatWasStoppedLeavesNothing(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 100)...)
	ctx, stop := context.WithCancel(t.Context())
	stop()
	path := filepath.Join(t.TempDir(), "copy.db")
	if _, err := db.Backup(ctx, path); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want that it was stopped", err)
	}
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file is left: %v", err)
	}
}

// Examine finds a byte that has changed in a reading's page, a cut, and a file that is none.
func TestExamineFindsDamage(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 5000)...)
	path := filepath.Join(t.TempDir(), "copy.db")
	if _, err := db.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, damaged := range map[string][]byte{
		"cut": whole[:len(whole)/2], "empty": {}, "text": []byte("time,value\n"),
		"page": append(append(append([]byte{}, whole[:8192]...), make([]byte, 4096)...), whole[12288:]...),
	} {
		if err := os.WriteFile(path, damaged, 0o600); err != nil {
			t.Fatal(err)
		}
		if got, err := Examine(path); err == nil {
			t.Errorf("%s: found whole: %+v", name, got)
		}
	}
}

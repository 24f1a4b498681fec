package store

import (
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestCreateRefusesToOverwrite(t *testing.T) {
	path := newPath(t)
	if err := Create(path); !errors.Is(err, fs.ErrExist) {
		t.Errorf("second Create: %v, want fs.ErrExist", err)
	}
	other := filepath.Join(t.TempDir(), "note.txt")
	if err := os.WriteFile(other, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Create(other); err == nil {
		t.Error("Create took over a file that was there")
	}
	if b, _ := os.ReadFile(other); string(b) != "mine" {
		t.Errorf("file that was there now holds %q", b)
	}
}

func TestCreateIsForItsOwnerOnly(t *testing.T) {
	info, err := os.Stat(newPath(t))
	if err != nil {
		t.Fatal(err)
	}
	if mode := info.Mode().Perm(); mode != 0o600 {
		t.Errorf("mode %o, want 600", mode)
	}
}

func TestOpenNeedsAnExistingFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mistyped.db")
	if _, err := Open(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Open: %v, want fs.ErrNotExist", err)
	}
	if _, err := OpenReadOnly(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("OpenReadOnly: %v, want fs.ErrNotExist", err)
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("Open made the file")
	}
}

func TestPathWithOddCharacters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a b?c#d%20é;&mode=memory.db")
	if err := Create(path); err != nil {
		t.Fatal(err)
	}
	db := open(t, path)
	commit(t, db, plain("alder", 1))
	if _, err := os.Stat(path); err != nil {
		t.Error(err)
	}
	entries := must[[]os.DirEntry](t)(os.ReadDir(filepath.Dir(path)))
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), filepath.Base(path)) {
			t.Errorf("stray file %q", e.Name())
		}
	}
}

func TestSecondDaemonIsRefused(t *testing.T) {
	path := newPath(t)
	first := open(t, path)
	_, err := Open(path)
	if !errors.Is(err, ErrLocked) {
		t.Fatalf("second Open: %v, want ErrLocked", err)
	}
	if pid := fmt.Sprintf("process %d", os.Getpid()); !strings.Contains(err.Error(), pid) {
		t.Errorf("%q does not name %q", err, pid)
	}
	link := filepath.Join(t.TempDir(), "link.db")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(link); !errors.Is(err, ErrLocked) {
		t.Errorf("Open by another name: %v, want ErrLocked", err)
	}
	commit(t, first, plain("alder", 1)) // the first goes on
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, path)
}

func TestOpenRefusesForeignAndNewerFiles(t *testing.T) {
	t.Run("another program's database", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "other.db")
		if _, err := raw(t, path).Exec("CREATE TABLE t (x)"); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path); err == nil || !strings.Contains(err.Error(), "not a flitch database") {
			t.Errorf("Open: %v", err)
		}
	})
	t.Run("no database", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "text.db")
		if err := os.WriteFile(path, []byte(strings.Repeat("not a database\n", 500)), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path); FaultOf(err) != Corrupt {
			t.Errorf("Open: %v, fault %q, want %q", err, FaultOf(err), Corrupt)
		}
	})
	t.Run("newer", func(t *testing.T) {
		path := newPath(t)
		if _, err := raw(t, path).Exec("PRAGMA user_version = 9999"); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path); !errors.Is(err, ErrNewer) {
			t.Errorf("Open: %v, want ErrNewer", err)
		}
		if _, err := OpenReadOnly(path); !errors.Is(err, ErrNewer) {
			t.Errorf("OpenReadOnly: %v, want ErrNewer", err)
		}
	})
	t.Run("empty", func(t *testing.T) { // Create was cut off
		path := filepath.Join(t.TempDir(), "empty.db")
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := OpenReadOnly(path); !errors.Is(err, ErrOlder) {
			t.Errorf("OpenReadOnly: %v, want ErrOlder", err)
		}
		if _, err := Open(path); !errors.Is(err, ErrEmpty) || FaultOf(err) != Corrupt {
			t.Errorf("Open: %v, want ErrEmpty", err)
		}
		if err := Create(path); err != nil {
			t.Fatal(err)
		}
		commit(t, open(t, path), plain("alder", 1))
		if err := Create(path); !errors.Is(err, fs.ErrExist) {
			t.Errorf("Create of one that is there: %v", err)
		}
	})
}

func TestOpenReadOnly(t *testing.T) {
	for _, daemon := range []bool{true, false} {
		t.Run(fmt.Sprintf("daemon running %v", daemon), func(t *testing.T) {
			path := newPath(t)
			db := open(t, path)
			commit(t, db, plains(0, 3)...)
			if !daemon {
				db.Close()
			}
			tool := must[*DB](t)(OpenReadOnly(path))
			defer tool.Close()
			if got := inputs(t, tool); len(got) != 3 || tool.LastSeq() != 3 {
				t.Errorf("tool sees %d inputs, last %d, want 3", len(got), tool.LastSeq())
			}
			if err := tool.Update(func(*Tx) error { return nil }); !errors.Is(err, ErrReadOnly) {
				t.Errorf("Update: %v, want ErrReadOnly", err)
			}
			if _, err := tool.CommitIntake(plains(5, 1), nil); !errors.Is(err, ErrReadOnly) {
				t.Errorf("CommitIntake: %v, want ErrReadOnly", err)
			}
			if _, err := tool.reader.Exec("DELETE FROM readings"); FaultOf(err) != ReadOnly {
				t.Errorf("write through the reading connection: %v", err)
			}
		})
	}
}

// TestCommitIsAnFsync checks the settings that make it one, and that the check
// would notice: the driver's own default and both settings alone must fail.
func TestCommitIsAnFsync(t *testing.T) {
	path := newPath(t)
	if err := assertDurable(open(t, path).writer); err != nil {
		t.Errorf("as we open it: %v", err)
	}
	for _, options := range []string{
		"mode=rw", // the driver's default
		"mode=rw&_journal_mode=WAL",
		"mode=rw&_journal_mode=WAL&_synchronous=NORMAL",
		"mode=rw&_journal_mode=WAL&_synchronous=OFF",
		"mode=memory&_journal_mode=WAL&_synchronous=FULL",
	} {
		db := must[*sql.DB](t)(openPool(path, 1, options))
		if err := assertDurable(db); err == nil {
			t.Errorf("%s: no error", options)
		}
		db.Close()
	}
}

func TestSettings(t *testing.T) {
	db := newDB(t)
	for pragma, want := range map[string]int{"auto_vacuum": 2, "foreign_keys": 1, "busy_timeout": 5000, "application_id": applicationID} {
		var got int
		if err := db.writer.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s = %d, %v, want %d", pragma, got, err, want)
		}
	}
}

func TestObserverHearsOfEveryCommit(t *testing.T) {
	var took []time.Duration
	var failed int
	db := must[*DB](t)(OpenWith(newPath(t), Options{ObserveCommit: func(d time.Duration, err error) {
		took = append(took, d)
		if err != nil {
			failed++
		}
	}}))
	defer db.Close()
	commit(t, db, plain("alder", 1))
	_ = db.Update(func(*Tx) error { return errors.New("no") })
	if len(took) != 2 || failed != 1 || took[0] <= 0 {
		t.Errorf("heard %v, %d failed, want two durations, one failed", took, failed)
	}
}

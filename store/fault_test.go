package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/mattn/go-sqlite3"

	"flitch/process"
)

func TestFaultOf(t *testing.T) {
	wrapped := func(code sqlite3.ErrNo) error {
		return fmt.Errorf("a: %w", fmt.Errorf("b: %w", sqlite3.Error{Code: code}))
	}
	for want, errs := range map[Fault][]error{
		NoFault:  {nil},
		Full:     {wrapped(sqlite3.ErrFull), sqlite3.Error{Code: sqlite3.ErrFull}, sqlite3.Error{Code: sqlite3.ErrIoErr, SystemErrno: syscall.ENOSPC}, fmt.Errorf("lock: %w", syscall.ENOSPC)},
		ReadOnly: {wrapped(sqlite3.ErrReadonly), sqlite3.Error{Code: sqlite3.ErrCantOpen, SystemErrno: syscall.EROFS}, fmt.Errorf("lock: %w", syscall.EROFS)},
		IO:       {wrapped(sqlite3.ErrIoErr), wrapped(sqlite3.ErrCantOpen), fmt.Errorf("key: %w", syscall.EIO)},
		Corrupt:  {wrapped(sqlite3.ErrCorrupt), wrapped(sqlite3.ErrNotADB)},
		Other:    {errors.New("x"), wrapped(sqlite3.ErrBusy), ErrLocked},
	} {
		for _, err := range errs {
			if got := FaultOf(err); got != want {
				t.Errorf("FaultOf(%v) = %q, want %q", err, got, want)
			}
		}
		if want.String() == "" {
			t.Errorf("fault %d has no words", want)
		}
	}
}

// A smallDisk is a place for a database that soon has no room left.
type smallDisk struct {
	path string
	free func() // makes room again
}

// smallDiskOf 3 MB: a file system of that size with a ballast file in it if we may
// mount one, else a database that may not grow.
func smallDiskOf(t *testing.T) smallDisk {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=3m"); err != nil {
		t.Logf("no mount (%v): limiting the pages instead", err)
		return smallDisk{path: filepath.Join(dir, "flitch.db")}
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Errorf("unmount: %v", err)
		}
	})
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 1<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	return smallDisk{path: filepath.Join(dir, "flitch.db"), free: func() {
		if err := os.Remove(ballast); err != nil {
			t.Fatal(err)
		}
	}}
}

// TestFullDisk fills the disk: the error says so, nothing that was acknowledged is
// lost, reading goes on, and so does writing once there is room.
func TestFullDisk(t *testing.T) {
	disk := smallDiskOf(t)
	if err := Create(disk.path); err != nil {
		t.Fatal(err)
	}
	db := must[*DB](t)(Open(disk.path))
	defer db.Close() // before the unmount
	if disk.free == nil {
		setMaxPages(t, db, 500)
		disk.free = func() { setMaxPages(t, db, 5000) }
	}
	stored := fill(t, db)
	n := must[int64](t)(db.CountReadings())
	if n != int64(stored) || db.LastSeq() != n {
		t.Errorf("%d readings, counter %d, %d were acknowledged", n, db.LastSeq(), stored)
	}
	if err := db.Check(); err != nil {
		t.Error(err)
	}
	disk.free()
	if done := commit(t, db, plains(stored, 200)...); done.Stored != 200 || done.LastSeq != n+200 {
		t.Errorf("with room again: %+v", done)
	}
	if err := db.Check(); err != nil {
		t.Error(err)
	}
}

// fill commits groups until one fails for want of room; it returns how many
// readings were acknowledged.
func fill(t *testing.T, db *DB) (stored int) {
	t.Helper()
	for stored < 1_000_000 {
		_, err := db.CommitIntake(plains(stored, 200), nil)
		if err == nil {
			stored += 200
			continue
		}
		if !IsFull(err) || FaultOf(err).String() != "disk full" {
			t.Errorf("after %d readings: %v, fault %q", stored, err, FaultOf(err))
		}
		if stored == 0 {
			t.Error("nothing was stored at all")
		}
		return stored
	}
	t.Fatal("the disk never filled")
	return 0
}

func setMaxPages(t *testing.T, db *DB, pages int) {
	t.Helper()
	if _, err := db.writer.Exec(fmt.Sprintf("PRAGMA max_page_count = %d", pages)); err != nil {
		t.Fatal(err)
	}
}

// TestFullDatabase is the same by the size limit, wherever the tests run.
func TestFullDatabase(t *testing.T) {
	db := newDB(t)
	setMaxPages(t, db, 300)
	stored := fill(t, db)
	if n := must[int64](t)(db.CountReadings()); n != int64(stored) {
		t.Errorf("%d readings, %d were acknowledged", n, stored)
	}
	setMaxPages(t, db, 3000)
	commit(t, db, plains(stored, 200)...)
}

func TestCheckFindsDamage(t *testing.T) {
	path := newPath(t)
	db := must[*DB](t)(Open(path))
	commit(t, db, plains(0, 5000)...)
	if err := db.Check(); err != nil {
		t.Fatalf("before: %v", err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	b := must[[]byte](t)(os.ReadFile(path))
	for i := len(b) / 2; i < len(b)/2+8192; i++ {
		b[i] ^= 0x55
	}
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	damaged, err := Open(path)
	if err == nil {
		defer damaged.Close()
		err = damaged.Check()
	}
	if err == nil || strings.Contains(err.Error(), "locked") {
		t.Errorf("after: %v, want the damage named", err)
	}
}

// TestCommandOnFullDiskKeepsTheCounter: the command was refused, so its number
// goes to the next one.
func TestCommandOnFullDiskKeepsTheCounter(t *testing.T) {
	db := newDB(t)
	setMaxPages(t, db, 100)
	fill(t, db)
	last := db.LastSeq()
	big := command("c-1", "OL-1")
	big.Text = strings.Repeat("x", 1<<20)
	err := db.Update(func(tx *Tx) error {
		_, _, err := tx.AppendCommand(big, noon)
		return err
	})
	if !IsFull(err) || db.LastSeq() != last {
		t.Errorf("AppendCommand: %v, counter %d, want %d", err, db.LastSeq(), last)
	}
	setMaxPages(t, db, 5000)
	if seq, fresh := appendCommand(t, db, big, noon); seq != last+1 || !fresh {
		t.Errorf("with room again: %d, %v, want %d", seq, fresh, last+1)
	}
	if got := must[[]process.Input](t)(db.NextInputs(last, 10)); len(got) != 1 {
		t.Errorf("%d inputs after %d, want 1", len(got), last)
	}
}

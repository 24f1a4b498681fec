package store

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// oldDatabase is a database of an earlier schema with a probe in it: all steps but the last.
func oldDatabase(t *testing.T) (path string, schema int) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "flitch.db")
	steps := must[[]string](t)(migrations())
	db := raw(t, path)
	if err := migrate(db, steps[:len(steps)-1]); err != nil {
		t.Fatal(err)
	}
	addProbe(t, db, "alder")
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path, len(steps) - 1
}

func addProbe(t *testing.T, db *sql.DB, name string) {
	t.Helper()
	if _, err := db.Exec("INSERT INTO probes (name) VALUES (?)", name); err != nil {
		t.Fatal(err)
	}
}

// holds wants a file to be a whole database of that schema with so many probes.
func holds(t *testing.T, path string, schema int, probes int64) {
	t.Helper()
	found, err := Examine(path)
	pool := must[*sql.DB](t)(openPool(path, 1, "mode=ro&immutable=1"))
	defer pool.Close()
	if is, _ := userVersion(pool); err != nil || is != schema || found.Probes != probes {
		t.Errorf("%s: schema %d with %d probes, %v; want schema %d with %d", path, is, found.Probes, err, schema, probes)
	}
}

func TestAnUpgradeKeepsTheDatabaseOfBefore(t *testing.T) {
	path, old := oldDatabase(t)
	part := CopyOfSchema(path, old) + ".part"
	if err := os.WriteFile(part, []byte("a start was killed"), 0o600); err != nil {
		t.Fatal(err)
	}
	db := open(t, path)
	want := Upgrade{From: old, To: old + 1, Copy: CopyOfSchema(path, old)}
	if up := db.Upgraded(); up == nil || *up != want {
		t.Fatalf("upgraded %+v, want %+v", up, want)
	}
	holds(t, want.Copy, old, 1)
	if info, err := os.Stat(want.Copy); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v: want mode 600", info.Mode(), err)
	}
	if isThere(part) {
		t.Error("half a copy was left")
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	holds(t, path, old+1, 1)
	if again := open(t, path); again.Upgraded() != nil {
		t.Errorf("upgraded once more: %+v", again.Upgraded())
	}
}

// Down by the copy, on with the old flitch, and up again: the copy is then that of the
// second time, and there is still one.
func TestTheWayBackIsKeptOnceOfEachSchema(t *testing.T) {
	path, old := oldDatabase(t)
	if err := open(t, path).Close(); err != nil {
		t.Fatal(err)
	}
	copied := CopyOfSchema(path, old)
	if err := os.Rename(copied, path); err != nil {
		t.Fatal(err)
	}
	db := raw(t, path)
	addProbe(t, db, "birch")
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if up := open(t, path).Upgraded(); up == nil || up.Copy != copied {
		t.Fatalf("upgraded %+v", up)
	}
	holds(t, copied, old, 2)
	all, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*.schema-*"))
	if err != nil || len(all) != 1 {
		t.Errorf("copies %v, %v, want one", all, err)
	}
}

// A new database and one that is current have no before.
func TestNothingIsCopiedWithoutAnUpgrade(t *testing.T) {
	path := newPath(t)
	if up := open(t, path).Upgraded(); up != nil {
		t.Errorf("%+v", up)
	}
	entries := must[[]os.DirEntry](t)(os.ReadDir(filepath.Dir(path)))
	for _, e := range entries {
		if strings.Contains(e.Name(), "schema") {
			t.Errorf("%s was made", e.Name())
		}
	}
}

// On a disk without room the upgrade goes on, loses nothing and says that there is no way back.
func TestAnUpgradeWithoutRoomGoesOnAndSaysSo(t *testing.T) {
	from, old := oldDatabase(t)
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=4m"); err != nil {
		t.Fatalf("mounting a small disk needs root: %v", err)
	}
	defer syscall.Unmount(dir, syscall.MNT_DETACH)
	path := filepath.Join(dir, "flitch.db")
	data := must[[]byte](t)(os.ReadFile(from))
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	db := open(t, path)
	up := db.Upgraded()
	if up == nil || up.Copy != "" || up.Without == nil || !strings.Contains(up.Without.Error(), "MB are free") {
		t.Fatalf("upgraded %+v, want none and why", up)
	}
	if isThere(CopyOfSchema(path, old)) {
		t.Error("a copy is there")
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	holds(t, path, old+1, 1)
}

// An older flitch says where the way back is: the copy if it is there, else a backup.
func TestAnOlderFlitchSaysWhatToDo(t *testing.T) {
	path := newPath(t)
	steps := must[[]string](t)(migrations())
	if _, err := raw(t, path).Exec("PRAGMA user_version = 9999"); err != nil {
		t.Fatal(err)
	}
	_, err := Open(path)
	if !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "put back a backup") {
		t.Errorf("%v", err)
	}
	copied := CopyOfSchema(path, len(steps))
	if err := os.WriteFile(copied, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err = Open(path); !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "flitch restore "+copied) {
		t.Errorf("%v", err)
	}
}

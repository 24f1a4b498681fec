package keyfile

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func TestAKeyIsMadeOnceAndKeptToItsOwner(t *testing.T) {
	path := filepath.Join(t.TempDir(), "flitch.db.key")
	made := 0
	fresh := func() ([]byte, error) { made++; return []byte("hunter2"), nil }
	for range 2 {
		if data, err := Load(path, fresh); err != nil || string(data) != "hunter2" {
			t.Fatalf("%q, %v", data, err)
		}
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("mode %v, %v", info.Mode(), err)
		}
		if err := os.Chmod(path, 0o644); err != nil { // as after a careless restore
			t.Fatal(err)
		}
	}
	if made != 1 {
		t.Errorf("made %d times", made)
	}
	if left, err := os.ReadDir(filepath.Dir(path)); err != nil || len(left) != 1 {
		t.Errorf("%d files are left, %v", len(left), err)
	}
}

func TestAKeyThatCannotBeMadeLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	broken := errors.New("no chance today")
	if _, err := Load(filepath.Join(dir, "key"), func() ([]byte, error) { return nil, broken }); !errors.Is(err, broken) {
		t.Errorf("err = %v", err)
	}
	if _, err := Load(filepath.Join(dir, "none", "key"), func() ([]byte, error) { return []byte("x"), nil }); err == nil {
		t.Error("a key was written into a folder that is not there")
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 0 {
		t.Errorf("%d files are left, %v", len(left), err)
	}
}

// What a kill left behind is removed by the next Write, and nothing else is: not what
// somebody writes to now, not a file that only looks alike.
func TestLeftoversAreRemoved(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "flitch.db.key")
	for _, name := range []string{"flitch.db.key.123.part", "flitch.db.key.77.part", "flitch.db.key.old.part", "flitch.db.key.9", "other.123.part"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("half"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	busy, err := os.Open(filepath.Join(dir, "flitch.db.key.77.part"))
	if err != nil {
		t.Fatal(err)
	}
	defer busy.Close()
	if err := lock(busy); err != nil {
		t.Fatal(err)
	}
	if err := Write(path, []byte("whole"), 0o600); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if want := []string{"flitch.db.key", "flitch.db.key.77.part", "flitch.db.key.9", "flitch.db.key.old.part", "other.123.part"}; !slices.Equal(names, want) {
		t.Errorf("left: %q, want %q", names, want)
	}
}

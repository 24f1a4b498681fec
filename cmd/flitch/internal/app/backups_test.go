package app

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
	"flitch/store"
)

// copies waits until so many copies are there, and returns them.
func (s *shop) copies(want int) []backup.Copy {
	s.t.Helper()
	var all []backup.Copy
	if !s.until(func() bool {
		var err error
		if all, err = backup.List(s.cfg.Backup.Folder); err != nil {
			s.t.Fatal(err)
		}
		return len(all) == want
	}) {
		s.t.Fatalf("%d copies, want %d", len(all), want)
	}
	return all
}

// A copy each hour, which holds what was acknowledged before it; a start in between makes
// none; the oldest go.
func TestCopiesAreMadeWhileItRuns(t *testing.T) {
	s := newShop(t)
	s.cfg.Backup = config.Backup{Folder: filepath.Join(t.TempDir(), "stick"), Every: time.Hour, Keep: 2}
	s.open()
	s.copies(1)
	s.at(30 * minute)
	s.read("chamber", 20)
	s.settle()
	s.close()
	s.open()
	s.copies(1)
	s.at(61 * minute)
	newest := s.copies(2)[0]
	if found, err := store.Examine(newest.Database()); err != nil || found.Readings == 0 {
		t.Errorf("the copy of the next hour: %+v, %v", found, err)
	}
	s.at(122 * minute)
	if !s.until(func() bool { all, _ := backup.List(s.cfg.Backup.Folder); return len(all) == 2 && all[1] == newest }) {
		t.Error("the third copy did not take the place of the first")
	}
	s.close()
}

// A stick that is not there is told in the day, once it has lasted, and ends.
func TestABackupThatFailsIsTold(t *testing.T) {
	s := newShop(t)
	stick := filepath.Join(t.TempDir(), "stick")
	if err := os.WriteFile(stick, nil, 0o600); err != nil { // a file where a folder has to be
		t.Fatal(err)
	}
	s.cfg.Backup = config.Backup{Folder: stick, Every: time.Hour, Keep: 2}
	s.open()
	s.told("B7b raised tell")
	if err := os.Remove(stick); err != nil {
		t.Fatal(err)
	}
	s.told("B7b cleared tell")
	if lines := s.journal("fault"); len(lines) == 0 || !strings.Contains(lines[0], "database") {
		t.Errorf("journal %q", lines)
	}
	s.close()
}

// told lets ten minutes at a time go by until the phone has heard the words.
func (s *shop) told(words string) {
	s.t.Helper()
	for range 12 {
		s.clock.Step(s.clock.Now().Add(10 * time.Minute))
		s.settle()
		if slices.Contains(s.phone.heard(), words) {
			return
		}
	}
	s.t.Fatalf("%q never came, only %q", words, s.phone.heard())
}

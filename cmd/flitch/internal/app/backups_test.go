package app

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/health"
	"flitch/process/engine"
	"flitch/store"
)

// copies lets minutes go by until the copies are as wanted, and returns them.
func (s *shop) copies(wanted func([]backup.Copy) bool) (all []backup.Copy) {
	s.t.Helper()
	if !s.until(func() bool {
		var err error
		if all, err = backup.List(s.cfg.Backup.Folder); err != nil {
			s.t.Fatal(err)
		}
		if !wanted(all) {
			s.clock.Step(s.clock.Now().Add(time.Minute))
		}
		return wanted(all)
	}) {
		s.t.Fatalf("%d copies, and not as wanted", len(all))
	}
	return all
}

func number(n int) func([]backup.Copy) bool {
	return func(all []backup.Copy) bool { return len(all) == n }
}

// A copy each hour, which holds what was acknowledged before it; a start in between makes
// none; the oldest go.
func TestCopiesAreMadeWhileItRuns(t *testing.T) {
	s := newShop(t)
	s.cfg.Backup = config.Backup{Folder: filepath.Join(t.TempDir(), "stick"), Every: time.Hour, Keep: 2}
	s.open()
	first := s.copies(number(1))[0]
	s.read("chamber", 20)
	s.settle()
	s.close()
	s.open()
	second := s.copies(number(2))[0]
	if apart := second.At.Sub(first.At); apart < time.Hour {
		t.Errorf("the second copy came %s after the first, by the start", apart)
	}
	if found, err := store.Examine(second.Database()); err != nil || found.Readings == 0 {
		t.Errorf("the copy of the next hour: %+v, %v", found, err)
	}
	left := s.copies(func(all []backup.Copy) bool { return len(all) == 2 && all[0] != second })
	if slices.Contains(left, first) {
		t.Error("the oldest copy has stayed")
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

// A copy that cannot be brought to another machine is told, is tried again, and the oldest go all the
// same.
func TestACopyThatIsNotHandedOnIsTold(t *testing.T) {
	s := newShop(t)
	attic := filepath.Join(t.TempDir(), "attic")
	s.cfg.Backup = config.Backup{Folder: filepath.Join(t.TempDir(), "stick"), Every: time.Hour, Keep: 2, HandOn: []string{"cp", "-r", "-t", attic, "{copy}"}}
	s.open()
	s.begin(raw)
	s.told("B7b raised tell")
	s.copies(number(2))
	if err := os.Mkdir(attic, 0o700); err != nil {
		t.Fatal(err)
	}
	s.told("B7b cleared tell")
	if there, err := os.ReadDir(attic); err != nil || len(there) == 0 {
		t.Errorf("in the attic are %v, %v", there, err)
	}
}

// told lets ten minutes at a time go by until the phone has heard the words.
func (s *shop) told(words string) {
	s.t.Helper()
	if !s.until(func() bool {
		s.clock.Step(s.clock.Now().Add(10 * time.Minute))
		s.settle()
		return slices.Contains(s.phone.heard(), words)
	}) {
		s.t.Fatalf("%q never came, only %q", words, s.phone.heard())
	}
}

// A copy that does not end, as on a stick that dies, is told, is over when it ends, and holds up no
// stop.
func TestACopyThatDoesNotEndIsTold(t *testing.T) {
	clock := NewStepped(dawn)
	a := &App{cfg: &config.Config{Backup: config.Backup{Folder: "/media/stick"}}, clock: clock, log: slog.New(slog.DiscardHandler), faults: &health.Faults{Changed: func(string, string) {}}}
	s := &shop{t: t}
	answers := make(chan struct{})
	hangs := func(context.Context) backupRound { <-answers; return backupRound{wait: time.Hour} }
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan backupRound, 2)
	go func() { ended <- a.bounded(ctx, hangs) }()
	told := func() bool {
		clock.Step(clock.Now().Add(time.Minute))
		return slices.ContainsFunc(a.faults.List(), func(f health.Fault) bool {
			return f.Part == engine.FaultBackup && strings.Contains(f.Text, "does /media/stick answer?")
		})
	}
	if !s.until(told) {
		t.Fatalf("faults %+v", a.faults.List())
	}
	answers <- struct{}{}
	if r := <-ended; r.err != nil || r.wait != time.Hour {
		t.Errorf("when it has ended: %+v", r)
	}
	go func() { ended <- a.bounded(ctx, hangs) }()
	stop()
	if r := <-ended; !errors.Is(r.err, context.Canceled) {
		t.Errorf("at a stop: %+v", r)
	}
	close(answers)
}

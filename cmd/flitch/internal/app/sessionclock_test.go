package app

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/signin"
	"flitch/cmd/flitch/internal/steady"
)

// What is promised of a sign-in, which lasts 60 days, when something happens to the clock a day
// after it. A step ahead shortens it by as much; nothing makes it longer but time without power
// of which a clock that is not set knows nothing.
var sessions = []struct {
	name    string
	happens func(h *signingHouse)
	lasts   time.Duration // of true time
}{
	{"nothing", func(*signingHouse) {}, 60 * day},
	{"an hour ahead", func(h *signingHouse) { h.machine.jump(hour) }, 60*day - hour},
	{"an hour back", func(h *signingHouse) { h.machine.jump(-hour) }, 60 * day},
	{"a day ahead", func(h *signingHouse) { h.machine.jump(day) }, 59 * day},
	{"a day ahead and back", func(h *signingHouse) { h.machine.jump(day); h.now(); h.machine.jump(-day) }, 59 * day},
	{"a day back", func(h *signingHouse) { h.machine.jump(-day) }, 60 * day},
	{"thirty years ahead and back", func(h *signingHouse) { h.machine.jump(30 * 365 * day); h.now(); h.machine.jump(-30 * 365 * day) }, 60 * day},
	{"it sleeps for a day", func(h *signingHouse) { h.machine.sleep(day); h.truth = h.truth.Add(day) }, 60 * day},
	{"it is held for a day, and only the clock on the wall goes on", func(h *signingHouse) { h.machine.jump(day); h.truth = h.truth.Add(day) }, 60 * day},
	{"off for a week, and 1970 for a day", func(h *signingHouse) {
		h.off(7*day, epoch)
		h.pass(day)
		h.machine.jump(h.truth.Sub(h.machine.Wall()))
	}, 60 * day},
	{"off for a week, and 1970 for good", func(h *signingHouse) { h.off(7*day, epoch) }, 67 * day},
	{"a leap second", func(h *signingHouse) { h.machine.jump(-time.Second) }, 60*day + time.Second},
}

// A signingHouse has a clock of the house and people who sign in.
type signingHouse struct {
	machine *testMachine
	clock   *steady.Clock
	truth   time.Time
}

func (h *signingHouse) now() time.Time {
	for _, n := range h.clock.Notices() {
		if n.Kind == steady.Followed {
			h.clock.Follow()
		}
	}
	return h.clock.Now()
}

func (h *signingHouse) pass(d time.Duration) {
	for ; d > 0; d -= hour {
		h.machine.pass(min(d, hour))
		h.truth = h.truth.Add(min(d, hour))
		h.now()
	}
}

// off is a power cut, after which the machine's clock says wall.
func (h *signingHouse) off(d time.Duration, wall time.Time) {
	last := h.now()
	h.truth = h.truth.Add(d)
	h.machine.restart(wall)
	h.clock = steady.New(h.machine, last, made)
}

func TestASignInLastsAsPromised(t *testing.T) {
	zero := &signingHouse{machine: newTestMachine(dawn), truth: dawn}
	file := signin.FileOf(filepath.Join(t.TempDir(), "flitch.db"))
	if err := file.Set("T.V.", "oak smoke at night"); err != nil {
		t.Fatal(err)
	}
	happened := 0
	for _, s := range sessions {
		t.Run(s.name, func(t *testing.T) {
			h := *zero
			h.machine = newTestMachine(dawn)
			h.clock = steady.New(h.machine, time.Time{}, made)
			desk := signin.NewDesk(file, []byte("a key of this test, 32 bytes ..."), func(string) signin.Role { return signin.Curer }, h.now)
			token, _, err := desk.Enter(t.Context(), "T.V.", "oak smoke at night", "10.0.0.2")
			if err != nil {
				t.Fatal(err)
			}
			h.pass(day)
			s.happens(&h)
			happened++
			desk.Now = h.now
			for in := true; in; {
				h.pass(hour)
				_, in = desk.Who(token)
				if lasted := h.truth.Sub(dawn); in == (lasted >= s.lasts) {
					t.Fatalf("after %v signed in: %v, promised are %v", lasted, in, s.lasts)
				}
			}
		})
	}
	t.Logf("%d faults of the clock", happened)
}

// Who typed a wrong password too often waits a quarter of an hour at most, whatever the clock
// does meanwhile.
func TestNobodyIsLockedOutByAJump(t *testing.T) {
	file := signin.FileOf(filepath.Join(t.TempDir(), "flitch.db"))
	for _, d := range []time.Duration{-day, -hour, hour, day, -30 * 365 * day, 30 * 365 * day} {
		h := &signingHouse{machine: newTestMachine(dawn), truth: dawn}
		h.clock = steady.New(h.machine, time.Time{}, made)
		desk := signin.NewDesk(file, []byte("a key of this test, 32 bytes ..."), func(string) signin.Role { return "" }, h.now)
		var many *signin.TooMany
		for range 20 {
			if _, _, err := desk.Admit("no secret", "10.0.0.2"); !errors.As(err, &many) {
				continue
			}
			h.machine.pass(many.Wait)
		}
		h.machine.jump(d)
		waited := time.Duration(0)
		for ; waited < day; waited += minute {
			if _, _, err := desk.Admit("no secret", "10.0.0.2"); errors.Is(err, signin.ErrWrong) {
				break
			}
			h.machine.pass(minute)
		}
		if waited > 15*minute {
			t.Errorf("after a jump of %v the next try waits %v", d, waited)
		}
	}
}

package flitchtest

import (
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"
)

// told is a test that keeps its complaints instead of failing.
type told struct {
	testing.TB
	errors int
}

func (t *told) Errorf(string, ...any) { t.errors++ }
func (t *told) Fatalf(string, ...any) { t.errors++ }

func shell(t testing.TB, script string) *Life {
	t.Helper()
	l := Start(t, exec.Command("sh", "-c", script))
	if !l.Until(time.Minute, func() bool { _, ok := l.Line("page "); return ok }) {
		t.Errorf("no page: %q", l.Said())
	}
	return l
}

// A life that ends badly, hangs, or had ended by itself is told of.
func TestTheEndOfALife(t *testing.T) {
	for script, want := range map[string]int{
		"trap 'exit 0' TERM; echo page 1; while :; do sleep 0.01; done":                              0,
		"trap 'exit 3' TERM; echo page 1; while :; do sleep 0.01; done":                              1,
		"trap '' TERM; trap 'echo here >&2; exit 0' QUIT; echo page 1; while :; do sleep 0.01; done": 1,
		"echo page 1; exit 2": 1,
	} {
		heard := &told{TB: t}
		l := shell(heard, script)
		l.End(syscall.SIGTERM, time.Second)
		l.End(syscall.SIGTERM, time.Second) // no second complaint
		if heard.errors != want {
			t.Errorf("%s: %d complaints, want %d", script, heard.errors, want)
		}
		if l.Runs() || strings.Contains(script, "QUIT") != strings.Contains(l.Said(), "here") {
			t.Errorf("%s: runs %v, said %q", script, l.Runs(), l.Said())
		}
	}
}

// Lines are taken whole, and from their beginning; who has ended says no more.
func TestWhatALifeSays(t *testing.T) {
	l := shell(t, "echo no page 0; echo page 1; echo page 2; echo broker 3 >&2; printf half")
	if page, ok := l.Line("page "); page != "1" || !ok {
		t.Errorf("page %q, %v", page, ok)
	}
	if l.Until(time.Minute, func() bool { _, ok := l.Line("half"); return ok }) {
		t.Error("half a line was taken")
	}
	if broker, ok := l.Line("broker "); broker != "3" || !ok {
		t.Errorf("broker %q, %v", broker, ok)
	}
}

// A kill is a kill, and is no complaint at the end.
func TestAKilledLife(t *testing.T) {
	l := shell(t, "trap '' TERM; echo page 1; exec sleep 1000")
	l.Kill()
	if status, ok := l.cmd.ProcessState.Sys().(syscall.WaitStatus); !ok || status.Signal() != syscall.SIGKILL {
		t.Errorf("it ended with %v", l.cmd.ProcessState)
	}
	l.End(syscall.SIGTERM, 0)
}

func TestABuildThatFailsSaysWhy(t *testing.T) {
	if path, err := Build(t.TempDir(), "-overlay", "nowhere.json"); err == nil || path != "" || !strings.Contains(err.Error(), "nowhere.json") {
		t.Errorf("%q, %v", path, err)
	}
}

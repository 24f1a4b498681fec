package baddisk

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
)

// slowly makes every wait for the disk of the daemon take that much longer, from now on
// until fast is called. strace holds the process up; nothing in flitch knows of it.
func (w *watched) slowly(d time.Duration) (fast func()) {
	w.t.Helper()
	path, err := exec.LookPath("strace")
	if err != nil {
		w.t.Fatal("strace is not installed (Debian: apt-get install strace): it makes the disk of this test slow")
	}
	tracer := exec.Command(path, "-f", "-qq", "-o", "/dev/null", "-e", "trace=fdatasync,fsync",
		"-e", fmt.Sprintf("inject=fdatasync,fsync:delay_exit=%d", d.Microseconds()), "-p", fmt.Sprint(w.life.PID))
	tracer.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	if err := tracer.Start(); err != nil {
		w.t.Fatal(err)
	}
	stopped := false
	fast = func() {
		if !stopped {
			stopped = true
			_ = tracer.Process.Signal(syscall.SIGINT) // it lets go
			_ = tracer.Wait()
		}
	}
	w.t.Cleanup(fast)
	if !flitchtest.Within(patience, func() bool { return traced(w.life.PID) }) {
		w.t.Fatal("strace did not get hold of flitch")
	}
	return fast
}

// traced reports whether every thread of a process is held by a tracer.
func traced(pid int) bool {
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/status", pid))
	for _, path := range threads {
		text, err := os.ReadFile(path)
		if err == nil && strings.Contains(string(text), "TracerPid:\t0\n") {
			return false
		}
	}
	return err == nil && len(threads) > 0
}

// A disk that takes two seconds for each write: a person hears of it within a minute, a
// fire still rings within one, nothing is acknowledged before it is stored, the page
// answers, and the watchdog is fed.
func TestASlowDisk(t *testing.T) {
	t.Parallel()
	w := newShed(t, small(t, "16m")).watchFor(30 * time.Second)
	w.up()
	w.begin()
	w.say("chamber", 60, 0)
	fast := w.slowly(2 * time.Second)
	w.acknowledgedLate(2 * time.Second)
	began := time.Now()
	told := func() bool { return len(w.phone.of("B10s", "raised")) > 0 }
	for n := 0; !told() && time.Since(began) < time.Minute; n++ {
		w.say("slow", 3, 0)
		flitchtest.Within(time.Second, told)
	}
	if !told() {
		t.Fatalf("nobody was told of the slow disk within a minute:\n%s", w.life.Said())
	}
	slow := w.phone.of("B10s", "raised")[0]
	if health := w.get("/healthz"); !strings.Contains(health, "slow disk") {
		t.Errorf("healthz says %s", health)
	}
	if page := w.get("/"); !strings.Contains(page, "<html") {
		t.Error("the page does not answer within 5 s")
	}
	lit := time.Now()
	w.flames(t.Context())
	fire, _ := w.rang(time.Second, "H1")
	if late := fire.came.Sub(lit); late > time.Minute {
		t.Errorf("a fire rang after %s", late)
	}
	w.alive()
	fast()
	t.Logf("1 fault: 2 s more for each write; %q after %s; a fire rang %s after its first reading, of which at least 2 s are readings",
		slow.Title, slow.came.Sub(began).Round(time.Second), fire.came.Sub(lit).Round(time.Second))
	w.life.end()
	w.sound()
}

// acknowledgedLate wants a reading to be stored before it is acknowledged.
func (w *watched) acknowledgedLate(least time.Duration) {
	w.t.Helper()
	began := time.Now()
	at, acked := w.say("slow", 3, 1)
	if !flitchtest.Within(patience, func() bool { return isClosed(acked) }) {
		w.t.Fatalf("a reading is not acknowledged on a slow disk:\n%s", w.life.Said())
	}
	if took := time.Since(began); took < least {
		w.t.Errorf("acknowledged after %s, and the disk takes %s: before it was stored, or this disk is not slow", took, least)
	}
	if !w.has("slow", at) {
		w.t.Error("acknowledged and not stored")
	}
}

// A write that does not end is a disk that takes nothing: that is told past the database,
// for which the next writer would have to wait too.
func TestAWriteThatHangs(t *testing.T) {
	t.Parallel()
	w := newShed(t, small(t, "16m")).watchFor(3 * time.Minute)
	w.up()
	fast := w.slowly(25 * time.Second)
	began := time.Now()
	_, acked := w.say("slow", 3, 1)
	told, ok := w.rang(40*time.Second, "B10")
	if !ok || !strings.Contains(told.Text, "has not ended") {
		t.Fatalf("nobody was told of a write that hangs, or wrong: %+v\n%s", told, w.life.Said())
	}
	if isClosed(acked) {
		t.Error("acknowledged before it was stored")
	}
	t.Logf("1 fault: a write of 25 s; told after %s: %s", told.came.Sub(began).Round(time.Second), told.Text)
	w.alive()
	fast()
	if !flitchtest.Within(patience, func() bool { return isClosed(acked) }) {
		t.Error("the reading that waited is not acknowledged")
	}
	w.life.end()
	w.sound()
}

package soak

import (
	"context"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
)

// binary is the program under test, built once as people build it: without the race detector.
var binary string

func TestMain(m *testing.M) {
	os.Exit(flitchtest.Around(func(path string) int { binary = path; return m.Run() }))
}

// A daemon is flitch: as a process of its own, or the app in this one.
type daemon struct {
	*flitchtest.Life // nil: it runs in this process
	folder           string
	page             string // http://host:port
	broker           string // host:port
	began            time.Time
}

// pid is the process to look at.
func (d *daemon) pid() int {
	if d.Life == nil {
		return os.Getpid()
	}
	return d.PID
}

func (d *daemon) database() string { return filepath.Join(d.folder, "flitch.db") }

// prepare writes a configuration and makes an empty database unless there is one.
func prepare(t testing.TB, folder, configuration string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(folder, "flitch.toml"), []byte(configuration), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(folder, "flitch.db")); err == nil {
		return
	}
	c := exec.Command(binary, "init", "--database", "flitch.db")
	c.Dir = folder
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("flitch init: %v: %s", err, out)
	}
}

// start runs the daemon in a folder that was prepared, and waits until it says where its
// broker is, which it does last.
func start(t testing.TB, folder string) *daemon {
	t.Helper()
	command := exec.Command(binary, "run")
	command.Dir = folder
	d := &daemon{folder: folder, began: time.Now()}
	d.Life = flitchtest.Start(t, command)
	t.Cleanup(d.stop)
	open := func() (ok bool) { d.broker, ok = d.Line("broker "); return ok }
	if !d.Until(10*time.Minute, open) {
		t.Fatalf("flitch run does not open its doors: %s", d.Said())
	}
	d.page, _ = d.Line("page ")
	return d
}

// stop ends it as a service does; one that does not end in a minute is a fault.
func (d *daemon) stop() { d.End(syscall.SIGTERM, time.Minute) }

// until asks again and again until it is so, or patience ends.
func until(ctx context.Context, patience time.Duration, so func() bool) bool {
	for deadline := time.Now().Add(patience); !so(); {
		if ctx.Err() != nil || time.Now().After(deadline) {
			return so()
		}
		<-time.After(20 * time.Millisecond)
	}
	return true
}

// quick is a client that gives up: nothing in a soak may wait for ever.
var quick = &http.Client{Timeout: time.Minute}

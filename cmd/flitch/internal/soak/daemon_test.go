package soak

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// binary is the program under test, built once as people build it: without the race detector.
var binary string

func TestMain(m *testing.M) { os.Exit(around(m)) }

func around(m *testing.M) int {
	folder, err := os.MkdirTemp("", "flitch-soak-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(folder)
	binary = filepath.Join(folder, "flitch")
	if out, err := exec.Command("go", "build", "-o", binary, "flitch/cmd/flitch").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// A daemon is flitch as a process of its own.
type daemon struct {
	command *exec.Cmd
	folder  string
	page    string // http://host:port
	broker  string // host:port
	began   time.Time

	mu   sync.Mutex
	said strings.Builder
}

// pid is the process to look at: the daemon's, or this one when the app runs in it.
func (d *daemon) pid() int {
	if d.command == nil {
		return os.Getpid()
	}
	return d.command.Process.Pid
}

func (d *daemon) database() string { return filepath.Join(d.folder, "flitch.db") }

// Write keeps the last of what the daemon says.
func (d *daemon) Write(p []byte) (int, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.said.Len() > 1<<16 {
		d.said.Reset()
	}
	return d.said.Write(p)
}

func (d *daemon) text() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.said.String()
}

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
	d := &daemon{folder: folder, command: exec.Command(binary, "run"), began: time.Now()}
	d.command.Dir = folder
	out, err := d.command.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	d.command.Stderr = d
	if err := d.command.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.stop(t) })
	for lines := bufio.NewScanner(out); lines.Scan(); {
		what, where, _ := strings.Cut(lines.Text(), " ")
		switch what {
		case "page":
			d.page = where
		case "broker":
			d.broker = where
			return d
		}
	}
	t.Fatalf("flitch run does not open its doors: %s", d.text())
	return nil
}

// stop ends it as a service does; one that does not end in a minute is a fault.
func (d *daemon) stop(t testing.TB) {
	t.Helper()
	if d.command.ProcessState != nil {
		return
	}
	_ = d.command.Process.Signal(syscall.SIGTERM)
	late := time.AfterFunc(time.Minute, func() { _ = d.command.Process.Kill() })
	defer late.Stop()
	if err := d.command.Wait(); err != nil {
		t.Errorf("flitch ended with %v: %s", err, d.text())
	}
}

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

func freeAddress(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// quick is a client that gives up: nothing in a soak may wait for ever.
var quick = &http.Client{Timeout: 20 * time.Second}

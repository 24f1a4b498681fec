package flitchtest

import (
	"bytes"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// A Life is one run of the binary.
type Life struct {
	PID int

	t    testing.TB
	cmd  *exec.Cmd
	done chan struct{} // closed when it has ended and all it said is here
	over bool          // Kill or End has seen to it

	mu   sync.Mutex
	said bytes.Buffer
}

// Start begins a life, in the folder and the environment that are set in cmd. It is killed
// when the test ends, if nothing has ended it by then.
func Start(t testing.TB, cmd *exec.Cmd) *Life {
	t.Helper()
	l := &Life{t: t, cmd: cmd, done: make(chan struct{})}
	cmd.Stdout, cmd.Stderr = l, l
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	l.PID = cmd.Process.Pid
	go func() { defer close(l.done); _ = cmd.Wait() }()
	t.Cleanup(l.Kill)
	return l
}

// Write keeps what it says.
func (l *Life) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.said.Write(p)
}

// Said is all it has said so far, both ways.
func (l *Life) Said() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.said.String()
}

// Line returns the rest of the first whole line that begins with these letters, and whether
// there is one yet.
func (l *Life) Line(begin string) (rest string, ok bool) {
	for line := range strings.Lines(l.Said()) {
		if rest, ok := strings.CutPrefix(line, begin); ok && strings.HasSuffix(rest, "\n") {
			return strings.TrimSuffix(rest, "\n"), true
		}
	}
	return "", false
}

// Runs is whether it has not ended.
func (l *Life) Runs() bool {
	select {
	case <-l.done:
		return false
	default:
		return true
	}
}

// Until asks again and again until it is so. It gives up after patience, and when the life has ended.
func (l *Life) Until(patience time.Duration, so func() bool) bool {
	return Within(patience, func() bool { return so() || !l.Runs() }) && so()
}

// Within asks again and again until it is so, and gives up after patience.
func Within(patience time.Duration, so func() bool) bool {
	for deadline := time.Now().Add(patience); !so(); {
		if time.Now().After(deadline) {
			return false
		}
		<-time.After(5 * time.Millisecond) // a real process: nothing else to wait on
	}
	return true
}

// Kill is SIGKILL: it finishes nothing.
func (l *Life) Kill() {
	l.over = true
	_ = l.cmd.Process.Kill()
	<-l.done
}

// End asks it to end by a signal, SIGTERM as a service does or SIGINT as Ctrl-C does. One that
// does not end within patience says where it hangs, and fails the test; so does one that ends
// with an error, or ended before by itself with one. After Kill or End it does nothing.
func (l *Life) End(signal os.Signal, patience time.Duration) {
	l.t.Helper()
	if l.over {
		return
	}
	_ = l.cmd.Process.Signal(signal)
	if !Within(patience, func() bool { return !l.Runs() }) {
		_ = l.cmd.Process.Signal(syscall.SIGQUIT)
		Within(10*time.Second, func() bool { return !l.Runs() })
		l.Kill()
		l.t.Fatalf("flitch did not end:\n%s", l.Said())
	}
	l.over = true
	if code := l.cmd.ProcessState.ExitCode(); code != 0 {
		l.t.Errorf("flitch ended with %d:\n%s", code, l.Said())
	}
}

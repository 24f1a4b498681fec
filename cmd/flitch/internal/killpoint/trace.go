package killpoint

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"sync"
	"syscall"
	"unsafe"

	"golang.org/x/sys/unix"
)

// A Count counts points over several programs and peers, and kills at one of them.
type Count struct {
	mu     sync.Mutex
	at     int      // number of the point to kill at; 0: none
	only   string   // if not empty, points of another name do not count
	counts int      // points so far that do
	seen   []string // names of the points so far
	victim int      // process that runs; 0: none
	killed string   // point at which one was killed
}

// NewCount kills at the n-th point, counted from 1; 0 never.
func NewCount(n int) *Count { return &Count{at: n} }

// NewCountOf kills at the n-th point of that name.
func NewCountOf(name string, n int) *Count { return &Count{at: n, only: name} }

// Here is a point. It reports whether the program was killed at it; then what the caller
// was about to do must not be done. Points after the kill are none.
func (c *Count) Here(what string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.killed != "" || c.victim == 0 {
		return c.killed != "" && c.victim != 0
	}
	c.seen = append(c.seen, what)
	if c.only == "" || c.only == what {
		c.counts++
	}
	if c.counts != c.at || c.only != "" && c.only != what {
		return false
	}
	c.killed = what
	_ = unix.Kill(c.victim, unix.SIGKILL)
	return true
}

// Killed names the point at which the program was killed; empty: it was not.
func (c *Count) Killed() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.killed
}

// Seen lists the points so far.
func (c *Count) Seen() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return append([]string(nil), c.seen...)
}

func (c *Count) run(pid int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.victim = pid
}

// A Process is a program that is watched.
type Process struct {
	PID    int
	cmd    *exec.Cmd
	ended  chan struct{}
	status unix.WaitStatus
	err    error
}

// Start starts cmd, which is the test binary itself (its TestMain calls Install), and
// stops at its points. Who calls it calls Wait of what it returns, and not that of cmd.
func (c *Count) Start(cmd *exec.Cmd) (*Process, error) {
	if cmd.Env == nil {
		cmd.Env = os.Environ()
	}
	cmd.Env = append(cmd.Env, environment+"=1")
	cmd.SysProcAttr = &syscall.SysProcAttr{Ptrace: true, Setpgid: true}
	p := &Process{cmd: cmd, ended: make(chan struct{})}
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread() // who starts a program under ptrace is who watches it; the thread ends with it
		defer close(p.ended)
		err := cmd.Start()
		if err == nil {
			p.PID = cmd.Process.Pid
			err = begin(p.PID)
		}
		if err == nil {
			c.run(p.PID)
		}
		started <- err
		if err != nil {
			return
		}
		p.status, p.err = c.watch(p.PID)
		c.run(0)
	}()
	if err := <-started; err != nil {
		return nil, fmt.Errorf("a program under ptrace: %w (in a container it has to be allowed: --cap-add SYS_PTRACE)", err)
	}
	return p, nil
}

// Wait returns how the program ended.
func (p *Process) Wait() (unix.WaitStatus, error) {
	<-p.ended
	_ = p.cmd.Wait() // closes its pipes; its end was seen by who watched
	return p.status, p.err
}

// begin waits for the stop after the exec, and lets the program go.
func begin(pid int) error {
	var status unix.WaitStatus
	if _, err := wait(pid, &status); err != nil {
		return err
	}
	if err := unix.PtraceSetOptions(pid, unix.PTRACE_O_TRACECLONE|unix.PTRACE_O_TRACESECCOMP|unix.PTRACE_O_EXITKILL); err != nil {
		return err
	}
	return unix.PtraceCont(pid, 0)
}

func wait(pid int, status *unix.WaitStatus) (got int, err error) {
	for {
		got, err = unix.Wait4(pid, status, unix.WALL|unix.WNOTHREAD, nil)
		if !errors.Is(err, unix.EINTR) {
			return got, err
		}
	}
}

// watch stops at points until the program has ended.
func (c *Count) watch(leader int) (unix.WaitStatus, error) {
	known := map[int]bool{leader: true}
	for {
		var status unix.WaitStatus
		pid, err := wait(-leader, &status) // any thread of its group, and nobody else's child
		switch {
		case err != nil:
			return 0, err
		case status.Exited() || status.Signaled():
			if pid == leader {
				return status, nil
			}
			continue
		}
		signal := 0
		switch stopped := status.StopSignal(); {
		case status.TrapCause() == unix.PTRACE_EVENT_SECCOMP:
			if made, err := pending(pid); err == nil {
				if what := made.point(); what != "" {
					c.Here(what)
				}
			}
		case stopped == unix.SIGTRAP && status.TrapCause() > 0:
		case stopped == unix.SIGSTOP && !known[pid]: // a new thread says that it is there
		default:
			signal = int(stopped)
		}
		known[pid] = true
		if err := unix.PtraceCont(pid, signal); err != nil && !errors.Is(err, unix.ESRCH) { // it was killed
			return 0, err
		}
	}
}

// pending is the call that a stopped thread is about to make: struct ptrace_syscall_info.
func pending(pid int) (call, error) {
	var info struct {
		op     uint8
		_      [3]uint8
		_      uint32
		_, _   uint64
		number uint64
		args   [6]uint64
		_      uint64
	}
	_, _, errno := unix.Syscall6(unix.SYS_PTRACE, unix.PTRACE_GET_SYSCALL_INFO, uintptr(pid), unsafe.Sizeof(info), uintptr(unsafe.Pointer(&info)), 0, 0)
	if errno != 0 {
		return call{}, errno
	}
	return call{pid: pid, number: info.number, args: info.args}, nil
}

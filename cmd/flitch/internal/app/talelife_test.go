package app

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/mattn/go-sqlite3"
	"golang.org/x/sys/unix"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/killpoint"
)

// taleEnv tells the test binary that it is the daemon of a tale; it holds where it is.
const taleEnv = "FLITCH_TEST_TALE"

var errKilled = errors.New("the daemon was killed")

// packNow has the daemon pack what is sealed, however few readings it is: a day has more.
const packNow = "pack"

// A taleSpec is what the daemon of a tale is started with.
type taleSpec struct {
	Config string
	Now    time.Time
}

// beTold is the daemon of a tale: the real one, on a clock that is stepped by lines on its
// input, each answered once all is evaluated and told.
func beTold(text string) error {
	var spec taleSpec
	if err := json.Unmarshal([]byte(text), &spec); err != nil {
		return err
	}
	if err := markStatements(); err != nil {
		return err
	}
	c, err := config.Load(spec.Config)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	clock := NewStepped(spec.Now)
	log := slog.New(slog.NewTextHandler(os.Stderr, &slog.HandlerOptions{Level: slog.LevelError}))
	a, err := New(c, Options{Clock: clock, Log: log, Version: "victim"})
	if err != nil {
		return err
	}
	fmt.Println("ready", a.Address(), cmp.Or(a.BrokerAddress(), "outside"))
	go func() {
		for lines := bufio.NewScanner(os.Stdin); lines.Scan(); {
			if lines.Text() == packNow {
				if err := a.pack(ctx, a.db.NewPacker(1)); err == nil {
					fmt.Println("packed")
				}
				continue
			}
			var to time.Time
			if to.UnmarshalText(lines.Bytes()) != nil {
				return
			}
			clock.Step(to)
			if err := a.Settle(ctx); err != nil {
				return
			}
			fmt.Println("settled")
		}
	}()
	return a.Run(ctx)
}

// markStatements wraps the driver, by the door that it has for this: each statement that
// begins, ends, puts in or takes out is a point before it, each row one after it is put in, changed
// or taken out, each commit one before it.
func markStatements() error {
	db, err := sql.Open("sqlite3", ":memory:")
	if err != nil {
		return err
	}
	driver, ok := db.Driver().(*sqlite3.SQLiteDriver)
	if !ok {
		return fmt.Errorf("the driver is a %T", db.Driver())
	}
	driver.ConnectHook = func(c *sqlite3.SQLiteConn) error {
		c.RegisterAuthorizer(func(what int, a, b, _ string) int {
			switch what {
			case sqlite3.SQLITE_TRANSACTION:
				killpoint.Mark("statement " + a)
			case sqlite3.SQLITE_INSERT:
				killpoint.Mark("statement INSERT " + a)
			case sqlite3.SQLITE_DELETE:
				killpoint.Mark("statement DELETE " + a)
			}
			return sqlite3.SQLITE_OK
		})
		c.RegisterUpdateHook(func(_ int, _, table string, _ int64) { killpoint.Mark("row in " + table) })
		c.RegisterCommitHook(func() int { killpoint.Mark("commit"); return 0 })
		return nil
	}
	return db.Close()
}

// A life is one run of the daemon of a tale.
type life struct {
	t       *testing.T
	cmd     *exec.Cmd
	watched *killpoint.Process // nil: by nobody
	in      io.WriteCloser
	out     *bufio.Reader
	said    bytes.Buffer // read it after the end only
	page    string
	broker  string
	ended   chan struct{}
	status  unix.WaitStatus
}

func newLife(t *testing.T, config string, now time.Time, count *killpoint.Count) *life {
	t.Helper()
	text, err := json.Marshal(taleSpec{config, now})
	if err != nil {
		t.Fatal(err)
	}
	l := &life{t: t, cmd: exec.Command(os.Args[0], "-test.run=^$"), ended: make(chan struct{})}
	l.cmd.Env = append(os.Environ(), taleEnv+"="+string(text), "GORACE="+os.Getenv("GORACE")+" halt_on_error=1 atexit_sleep_ms=0")
	l.cmd.Stderr = &l.said
	out, err := l.cmd.StdoutPipe()
	if err == nil {
		l.in, err = l.cmd.StdinPipe()
	}
	if err == nil && count != nil {
		l.watched, err = count.Start(l.cmd)
	} else if err == nil {
		err = l.cmd.Start()
	}
	if err != nil {
		t.Fatal(err)
	}
	l.out = bufio.NewReader(out)
	go l.wait()
	return l
}

func (l *life) wait() {
	defer close(l.ended)
	if l.watched != nil {
		l.status, _ = l.watched.Wait()
		return
	}
	l.cmd.Wait()
	if status, ok := l.cmd.ProcessState.Sys().(syscall.WaitStatus); ok {
		l.status = unix.WaitStatus(status)
	}
}

// ready waits until it has opened its doors.
func (l *life) ready() error {
	line, err := l.out.ReadString('\n')
	if err != nil {
		return err
	}
	_, err = fmt.Sscanf(line, "ready %s %s", &l.page, &l.broker)
	return err
}

// step moves its clock and waits until all is evaluated.
func (l *life) step(to time.Time) error {
	if _, err := fmt.Fprintln(l.in, to.Format(time.RFC3339Nano)); err != nil {
		return err
	}
	line, err := l.out.ReadString('\n')
	if err == nil && line != "settled\n" {
		err = fmt.Errorf("the daemon said %q", line)
	}
	return err
}

// pack moves what is sealed into blocks.
func (l *life) pack() error {
	if _, err := fmt.Fprintln(l.in, packNow); err != nil {
		return err
	}
	line, err := l.out.ReadString('\n')
	if err == nil && line != "packed\n" {
		err = fmt.Errorf("the daemon said %q", line)
	}
	return err
}

// over waits a moment for an end that is on its way, and reports whether it came.
func (l *life) over() bool {
	select {
	case <-l.ended:
		return true
	case <-time.After(200 * time.Millisecond):
		return false
	}
}

// end is SIGTERM.
func (l *life) end() error {
	if err := l.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		return err
	}
	<-l.ended
	if l.status.Signaled() {
		return errKilled
	}
	return nil
}

// bury looks at how it ended: killed, or by itself and well; and silently.
func (l *life) bury(killed bool) {
	l.t.Helper()
	<-l.ended
	if killed != (l.status.Signaled() && l.status.Signal() == unix.SIGKILL) || !killed && l.status.ExitStatus() != 0 {
		l.t.Fatalf("the daemon ended with %v, to be killed: %v\n%s", l.status, killed, l.said.String())
	}
	if l.said.Len() > 0 {
		l.t.Errorf("the daemon complained:\n%s", l.said.String())
	}
}

// stacks ends a life that hangs, and is what it said, and where.
func (l *life) stacks() string {
	_ = l.cmd.Process.Signal(syscall.SIGQUIT)
	select {
	case <-l.ended:
	case <-time.After(patient / 6):
		l.drop()
	}
	return l.said.String()
}

// drop ends it when a test gives up.
func (l *life) drop() {
	l.cmd.Process.Kill()
	<-l.ended
}

// A wrappedPhone is a phone whose messages are points: before it has one, and when it has
// it and has not answered.
type wrappedPhone struct {
	server *httptest.Server
	count  *killpoint.Count
	hasty  bool // control: a relay that answers first, and passes on when it finds time

	mu      sync.Mutex
	got     []ring
	relayed []ring // answered, not passed on yet
}

func newWrappedPhone(t *testing.T, count *killpoint.Count) *wrappedPhone {
	p := &wrappedPhone{count: count}
	p.server = httptest.NewServer(p)
	t.Cleanup(p.server.Close)
	return p
}

func (p *wrappedPhone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var m ring
	if err := json.NewDecoder(r.Body).Decode(&m); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	if p.count.Here("a message on its way") {
		return
	}
	p.take(m)
	p.count.Here("the phone has a message, and has not answered")
}

func (p *wrappedPhone) take(m ring) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.hasty {
		p.relayed = append(p.relayed, m)
		return
	}
	p.got = append(p.got, m)
}

// settled: the relay has found time.
func (p *wrappedPhone) settled() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.got, p.relayed = append(p.got, p.relayed...), nil
}

// died: a relay on the same power has lost what it had not passed on.
func (p *wrappedPhone) died() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.relayed = nil
}

func (p *wrappedPhone) all() []ring {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]ring(nil), p.got...)
}

// title is a message without the mark of a repeat.
func (r ring) title() string { return strings.TrimSuffix(r.Title, " (may repeat)") }

package main

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// A moved daemon is the whole program on a machine whose clock the test holds.
type moved struct {
	*larder
	in     io.WriteCloser
	moves  chan bool // one for each move that is done; closed at the daemon's end
	page   string
	broker string
	raw    *mqtttest.Raw
	id     uint16
}

func (l *larder) startAt(wall time.Time) *moved {
	l.t.Helper()
	m := &moved{larder: l, moves: make(chan bool, 1)}
	l.daemon = exec.Command("flitch-at", "run", "--config", filepath.Join(l.dir, "flitch.toml"))
	l.daemon.Env = append(l.daemon.Environ(), "FLITCH_TEST_WALL="+wall.Format(time.RFC3339))
	var err error
	if m.in, err = l.daemon.StdinPipe(); err != nil {
		l.t.Fatal(err)
	}
	out, err := l.daemon.StdoutPipe()
	if err != nil {
		l.t.Fatal(err)
	}
	log, err := l.daemon.StderrPipe()
	if err == nil {
		err = l.daemon.Start()
	}
	if err != nil {
		l.t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	outside := strings.Contains(string(must(l.t, filepath.Join(l.dir, "flitch.toml"))), "\nmode = \"external\"")
	for m.broker == "" && (!outside || m.page == "") && lines.Scan() {
		if at, ok := strings.CutPrefix(lines.Text(), "page "); ok {
			m.page = at
		}
		if at, ok := strings.CutPrefix(lines.Text(), "broker "); ok {
			m.broker = at
		}
	}
	if m.page == "" {
		rest, _ := io.ReadAll(log)
		l.t.Fatalf("the daemon did not start: %s", rest)
	}
	go func() { // all the time: who does not read what a daemon says holds it up
		defer close(m.moves)
		said := bufio.NewScanner(log)
		for said.Scan() {
			if said.Text() == "moved" {
				m.moves <- true
			}
		}
	}()
	if outside {
		return m
	}
	if m.raw, err = mqtttest.Dial(m.broker, "bottle"); err != nil {
		l.t.Fatal(err)
	}
	return m
}

// move moves the clocks of the machine: "pass 1m", "jump -1h", "sleep 6h".
func (m *moved) move(line string) {
	m.t.Helper()
	if _, err := fmt.Fprintln(m.in, line); err != nil {
		m.t.Fatal(err)
	}
	if !<-m.moves {
		m.t.Fatalf("the daemon ended at %q", line)
	}
}

// bottle publishes what the probe of the fridge reads, and waits for the acknowledgement.
func (m *moved) bottle(payload string) {
	m.t.Helper()
	m.id++
	if err := m.raw.Send(mqtttest.Packet("larder/alder/bottle", []byte(payload), 1, m.id)); err != nil {
		m.t.Fatal(err)
	}
	if _, err := m.raw.Puback(time.Minute); err != nil {
		m.t.Fatalf("no acknowledgement: %v", err)
	}
}

// fridge lets minutes pass with a reading of each.
func (m *moved) fridge(minutes int, value float64) {
	m.t.Helper()
	for range minutes {
		m.move("pass 1m")
		m.bottle(fmt.Sprintf(`{"temperature":%.1f}`, value))
	}
}

// flitch runs a command against the daemon.
func (m *moved) flitch(args ...string) string {
	m.t.Helper()
	out, err := exec.Command("flitch", append(args, "--url", m.page)...).CombinedOutput()
	if err != nil {
		m.t.Fatalf("flitch %s: %v\n%s", strings.Join(args, " "), err, out)
	}
	return string(out)
}

// until asks again until the answer has a text: evaluation is a moment behind.
func (m *moved) until(path, text string) {
	m.t.Helper()
	var last string
	for range 8000 {
		if last = m.body(path); strings.Contains(last, text) {
			return
		}
		<-time.After(5 * time.Millisecond)
	}
	m.t.Fatalf("%s never said %q but:\n%.2000s", path, text, last)
}

// passUntil lets minutes pass, one by one, until it is so, at most so many. After each it waits for the
// evaluation, which is more than a moment behind on a busy machine: by a clock that stands still
// nothing comes any nearer, and by one that runs ahead nothing is proved.
func (m *moved) passUntil(most int, what string, now func() bool) (minutes int) {
	m.t.Helper()
	for minutes < most {
		m.move("pass 1m")
		minutes++
		for range 100 {
			if now() {
				return minutes
			}
			<-time.After(5 * time.Millisecond)
		}
	}
	m.t.Fatalf("in %d minutes never: %s", minutes, what)
	return 0
}

// passUntilHome is passUntil for a text of the page.
func (m *moved) passUntilHome(most int, text string) {
	m.t.Helper()
	m.passUntil(most, "the page says "+text, func() bool { return strings.Contains(m.body("/home"), text) })
}

// body is what a page says now; empty: it does not answer.
func (m *moved) body(path string) string {
	answer, err := http.Get(m.page + path)
	if err != nil {
		return ""
	}
	defer answer.Body.Close()
	body, _ := io.ReadAll(answer.Body)
	return string(body)
}

// The program as it is started, on a machine that starts in 1970, is set by a time server,
// jumps both ways, goes to sleep, and is switched off and on again in 1970.
func TestTheDaemonOnAClockThatIsWrong(t *testing.T) {
	l := installed(t, t.TempDir())
	text := string(must(t, filepath.Join(l.dir, "flitch.toml")))
	write(t, filepath.Join(l.dir, "flitch.toml"), strings.Replace(strings.Replace(text, "time = \"/time\"", "# ", 1), "time_format = \"rfc3339\" ", "# ", 1))
	truth := time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)
	m := l.startAt(time.Unix(7, 0).UTC())
	m.until("/home", "Clock of this machine")
	m.fridge(10, 3)
	m.move(fmt.Sprintf("jump %v", truth.Sub(time.Unix(7, 0))))
	m.fridge(1, 3)
	m.flitch("batch", "new", "--by", "T.V.", "--id", "PS-02", "--plan", "belly-dry-cured", "--piece", "A:2268g:38mm", "--fridge", "alder", "--smoker", "old-kettle")
	m.fridge(90, 3)
	m.until("/api/batches/PS-02", "2031-05-05T07:")
	faults := 2
	for _, jump := range []time.Duration{time.Hour, -time.Hour, 24 * time.Hour, -24 * time.Hour, 30 * 365 * 24 * time.Hour, -30 * 365 * 24 * time.Hour} {
		m.move(fmt.Sprintf("jump %v", jump))
		m.fridge(5, 3)
		faults++
	}
	if rings := m.flitch("alarms"); strings.Contains(rings, "ring") {
		t.Errorf("something rings, and the fridge was heard every minute and cold:\n%s", rings)
	}
	m.move("sleep 6h")
	m.move("pass 1m")
	faults++
	m.until("/home", "Fridge not heard")
	m.fridge(75, 9)
	m.until("/home", "C2")
	l.kill()

	m = l.startAt(time.Unix(7, 0).UTC())
	faults++
	m.fridge(5, 9)
	m.until("/home", "Clock of this machine")
	l.kill()
	l.neverRanBack()
	t.Logf("%d faults of the clock", faults)
}

// neverRanBack looks at what is on disk.
func (l *larder) neverRanBack() {
	l.t.Helper()
	db, err := store.OpenReadOnly(filepath.Join(l.dir, "flitch.db"))
	if err != nil {
		l.t.Fatal(err)
	}
	defer db.Close()
	inputs, err := db.NextInputs(0, 1e6)
	if err != nil || len(inputs) < 200 {
		l.t.Fatalf("%d inputs, %v", len(inputs), err)
	}
	words := 0
	for i, in := range inputs {
		if i > 0 && in.At.Before(inputs[i-1].At) || in.At.Year() < 2026 || in.At.Year() > 2031 {
			l.t.Fatalf("input %d is of %v, after %v", in.Seq, in.At, inputs[max(0, i-1)].At)
		}
		if in.Command.Clock != nil {
			words++
		}
	}
	if words < 7 {
		l.t.Errorf("%d words of the clock are stored", words)
	}
}

func must(t testing.TB, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

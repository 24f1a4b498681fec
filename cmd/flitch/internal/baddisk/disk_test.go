package baddisk

import (
	"context"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/flitchtest"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// fill writes until there is no room left, and returns how to make room.
func (m *mount) fill() (free func()) {
	m.t.Helper()
	path := m.path("somebody-else")
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		m.t.Fatal(err)
	}
	defer f.Close()
	for block := make([]byte, 4096); err == nil; {
		_, err = f.Write(block)
	}
	return func() {
		if err := os.Remove(path); err != nil {
			m.t.Error(err)
		}
	}
}

// A watchdog is what systemd is to a daemon: it hears whether that still works.
type watchdog struct {
	conn  *net.UnixConn
	path  string
	every time.Duration
	mu    sync.Mutex
	fed   []time.Time
}

// watchEvery is how long it waits to be fed. systemd is told 3 minutes; the tests have less
// time.
const watchEvery = 4 * time.Second

func newWatchdog(t *testing.T, every time.Duration) *watchdog {
	t.Helper()
	w := &watchdog{every: every, path: filepath.Join(t.TempDir(), "notify")}
	var err error
	if w.conn, err = net.ListenUnixgram("unixgram", &net.UnixAddr{Name: w.path, Net: "unixgram"}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.conn.Close() })
	go w.listen()
	return w
}

func (w *watchdog) listen() {
	for text := make([]byte, 4096); ; {
		n, err := w.conn.Read(text)
		if err != nil {
			return
		}
		if strings.Contains(string(text[:n]), "WATCHDOG=1") {
			w.mu.Lock()
			w.fed = append(w.fed, time.Now())
			w.mu.Unlock()
		}
	}
}

func (w *watchdog) environment() []string {
	return []string{"NOTIFY_SOCKET=" + w.path, fmt.Sprintf("WATCHDOG_USEC=%d", w.every.Microseconds())}
}

// starved is the longest it has waited since a time.
func (w *watchdog) starved(since time.Time) (longest time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	last := since
	for _, at := range append(w.fed, time.Now()) {
		if at.After(since) {
			longest, last = max(longest, at.Sub(last)), at
		}
	}
	return longest
}

// A watched is one run of the daemon on a bad disk, watched as systemd watches it.
type watched struct {
	*shed
	life  *life
	dog   *watchdog
	began time.Time
	lines map[string]*mqtttest.Raw // connections that publish without asking for an answer
}

// watch starts flitch with a watchdog.
func (s *shed) watch() *watched { return s.watchFor(watchEvery) }

func (s *shed) watchFor(every time.Duration) *watched { return s.watchOf(full, every) }

func (s *shed) watchOf(b build, every time.Duration) *watched {
	s.t.Helper()
	w := &watched{shed: s, dog: newWatchdog(s.t, every), began: time.Now(), lines: map[string]*mqtttest.Raw{}}
	w.life = s.launch(b, w.dog.environment())
	return w
}

func (w *watched) up() {
	w.t.Helper()
	if !w.life.until(func() bool { return w.life.open() && w.get("/healthz") != "" }) {
		w.t.Fatalf("flitch did not start:\n%s", w.life.Said())
	}
}

// alive wants flitch to run, to feed its watchdog and to answer on its page.
func (w *watched) alive() {
	w.t.Helper()
	if !w.life.Runs() {
		w.t.Fatalf("flitch ended by itself:\n%s", w.life.Said())
	}
	if longest := w.dog.starved(w.began); longest > w.dog.every {
		w.t.Errorf("the watchdog was not fed for %s", longest)
	}
}

// say publishes a reading measured now, with QoS 0 or 1, and returns at once; acked is
// closed when it is acknowledged.
func (w *watched) say(probe string, value float64, qos byte) (at time.Time, acked chan struct{}) {
	w.t.Helper()
	at = time.Now().Truncate(time.Millisecond)
	p := mqtttest.Packet("shop/"+probe, fmt.Appendf(nil, `{"t":%d,"v":%.1f}`, at.UnixMilli(), value), qos, 1)
	if conn := w.lines[probe]; qos == 0 && conn != nil && conn.Send(p) == nil {
		return at, nil
	}
	conn, err := mqtttest.Dial(w.broker, fmt.Sprintf("%s-%d", probe, at.UnixNano()))
	if err != nil {
		w.t.Fatalf("publish: %v\n%s", err, w.life.Said())
	}
	w.t.Cleanup(conn.Close)
	if err := conn.Send(p); err != nil {
		w.t.Fatal(err)
	}
	if qos == 0 {
		w.lines[probe] = conn
		return at, nil
	}
	acked = make(chan struct{})
	go func() {
		defer conn.Close()
		if _, err := conn.Puback(2 * patience); err == nil {
			close(acked)
		}
	}()
	return at, acked
}

func isClosed(c chan struct{}) bool {
	select {
	case <-c:
		return true
	default:
		return false
	}
}

// rang waits for a message of an entry.
func (w *watched) rang(within_ time.Duration, entry string) (ring, bool) {
	found := func() bool { return len(w.phone.of(entry, "raised")) > 0 }
	if !flitchtest.Within(within_, func() bool { return found() || !w.life.Runs() }) || !found() {
		return ring{}, false
	}
	return w.phone.of(entry, "raised")[0], true
}

// flames is a chamber that burns: what H1 rings of.
func (w *watched) flames(ctx context.Context) (sent int) {
	for c := 60.0; ctx.Err() == nil && len(w.phone.of("H1", "raised")) == 0; c += 15 {
		w.say("chamber", min(c, 350), 0)
		sent++
		pause(ctx, 700*time.Millisecond)
	}
	return sent
}

// stored opens the database beside the daemon.
func (w *watched) stored() *store.DB {
	w.t.Helper()
	db, err := store.OpenReadOnly(w.database)
	if err != nil {
		w.t.Fatal(err)
	}
	w.t.Cleanup(func() { db.Close() })
	return db
}

func (w *watched) has(probe string, at time.Time) bool {
	db, err := store.OpenReadOnly(w.database)
	if err != nil {
		return false
	}
	defer db.Close()
	has, err := db.HasReading(probe, at)
	return has && err == nil
}

// journal is every line of it.
func (w *watched) journal() string {
	w.t.Helper()
	var all strings.Builder
	for _, line := range must(w.stored().Journal(""))(w.t) {
		fmt.Fprintf(&all, "%s: %s\n", line.Kind, line.Text)
	}
	return all.String()
}

func must[T any](v T, err error) func(t *testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

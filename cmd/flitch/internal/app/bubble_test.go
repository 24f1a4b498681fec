package app

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/store"
)

// A bubbleMachine is a machine in a bubble of testing/synctest, whose time is what the timers
// of all loops go by. What its two clocks say beside that is the test's.
type bubbleMachine struct {
	mu     sync.Mutex
	origin time.Time     // the true time when the bubble began
	began  time.Time     // of the bubble
	slept  time.Duration // true time in which no timer ran
	stood  time.Duration // of the slept time, what its count of seconds missed
	booted time.Duration // true time since origin when its count began
	off    time.Duration // how far its clock is ahead of the true time
	smear  time.Time     // from when a leap second is smeared over a day; zero: never
	apart  time.Duration // by how much its clocks are read at two moments, now and then
	looks  int
}

func newBubbleMachine(origin time.Time) *bubbleMachine {
	return &bubbleMachine{origin: origin.UTC(), began: time.Now()}
}

// truth is the time that it is.
func (m *bubbleMachine) truth() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.true()
}

func (m *bubbleMachine) true() time.Time { return m.origin.Add(time.Since(m.began) + m.slept) }

// Times implements Machine.
func (m *bubbleMachine) Times() (wall time.Time, elapsed time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	now := m.true()
	wall = now.Add(m.off)
	if !m.smear.IsZero() && now.After(m.smear) {
		wall = wall.Add(-time.Duration(min(1, now.Sub(m.smear).Hours()/24) * float64(time.Second)))
	}
	elapsed = now.Sub(m.origin) - m.booted - m.stood
	if m.looks++; m.apart > 0 && m.looks%1000 == 0 {
		elapsed += m.apart
	}
	return wall, elapsed
}

// After implements Machine.
func (m *bubbleMachine) After(d time.Duration) <-chan time.Time { return time.After(d) }

// set moves the clock on the wall.
func (m *bubbleMachine) set(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.off += d
}

// right sets it to the true time.
func (m *bubbleMachine) right() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.off = 0
}

// suspend lets time pass in which no timer runs. The count of seconds goes on meanwhile, as
// Linux has it, or stands, as on other systems and in a virtual machine that is held.
func (m *bubbleMachine) suspend(d time.Duration, counted bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.slept += d
	if !counted {
		m.stood += d
	}
}

// boot begins its count anew, with a clock that says wall.
func (m *bubbleMachine) boot(wall time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	now := m.true()
	m.booted, m.stood, m.off = now.Sub(m.origin), 0, wall.Sub(now)
}

// A delivery is a message that has reached somebody, or was refused there.
type delivery struct {
	alerts.Message
	at    time.Time // true
	taken bool
}

// link is the address to answer it with; empty: there is none.
func (d delivery) link() string {
	_, link, _ := strings.Cut(d.Body, "I am on it: ")
	return link
}

// A bubbleWay is the far end of a way to somebody, in memory.
type bubbleWay struct {
	name string
	b    *bubble
	mu   sync.Mutex
	deaf bool
	seen []delivery
}

func (w *bubbleWay) Name() string            { return w.name }
func (w *bubbleWay) Deadline() time.Duration { return 10 * time.Second }

func (w *bubbleWay) Send(_ context.Context, m alerts.Message) (string, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.seen = append(w.seen, delivery{m, w.b.machine.truth(), !w.deaf})
	if w.deaf {
		return "", &alerts.SendError{Retry: true, Text: "out of reach"}
	}
	return "taken", nil
}

func (w *bubbleWay) hear(hears bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.deaf = !hears
}

// taken are the messages that it took.
func (w *bubbleWay) taken() (all []delivery) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, d := range w.seen {
		if d.taken {
			all = append(all, d)
		}
	}
	return all
}

// A deaf listener lets nobody in: the page is asked through its handler.
type deafListener struct {
	once sync.Once
	shut chan struct{}
}

func (l *deafListener) Accept() (net.Conn, error) { <-l.shut; return nil, net.ErrClosed }
func (l *deafListener) Close() error              { l.once.Do(func() { close(l.shut) }); return nil }
func (l *deafListener) Addr() net.Addr            { return &net.TCPAddr{} }

// A bubble is the whole daemon with all its loops in fake time. Sensors, phones, the watcher
// outside and the supervisor are ends in memory.
type bubble struct {
	t       *testing.T
	cfg     *config.Config
	machine *bubbleMachine
	blind   bool // its clock is followed whatever it says, and nobody is told
	mute    bool // no sensor says anything
	phone   *bubbleWay
	wall    *bubbleWay
	app     *App
	stop    context.CancelFunc
	done    chan error

	mu    sync.Mutex
	beats []time.Time // true times of beats that got through
	fed   []time.Time // of the bubble, when the supervisor was told WATCHDOG=1

	copies []time.Time // true times of backups
}

func newBubble(t *testing.T, zone *time.Location, origin time.Time) *bubble {
	t.Helper()
	dir := t.TempDir()
	b := &bubble{t: t, cfg: testConfig(filepath.Join(dir, "flitch.db"), "http://127.0.0.1:1"), machine: newBubbleMachine(origin)}
	b.phone, b.wall = &bubbleWay{name: "phone", b: b}, &bubbleWay{name: "wall", b: b}
	b.cfg.Site.Zone = zone
	b.cfg.Page.Link = "http://localhost:8411"
	b.cfg.Broker.Mode = config.External
	wall := b.cfg.Channels[0]
	wall.Name = "wall"
	b.cfg.Channels = append(b.cfg.Channels, wall)
	b.cfg.Probes = b.cfg.Probes[:1]
	b.cfg.Probes[0].Interval = 5 * time.Minute
	b.cfg.Persons = []config.Person{{Name: "T. V.", Initials: "T.V.", Channels: []string{"phone"}, Role: "curer", Quiet: config.Quiet{From: 22 * time.Hour, To: 7 * time.Hour}}}
	b.cfg.Heartbeat = config.Heartbeat{URL: config.NewSecret("http://127.0.0.1:1"), Method: "POST", Every: 5 * time.Minute, Deadline: time.Second}
	b.cfg.Backup = config.Backup{Folder: filepath.Join(dir, "stick"), Every: 6 * time.Hour, Keep: 100}
	for i := range b.cfg.Probes {
		b.cfg.Probes[i].Payload.Time, b.cfg.Probes[i].Payload.TimeFormat = "", ""
	}
	if err := store.Create(b.cfg.Site.Database); err != nil {
		t.Fatal(err)
	}
	return b
}

// Tell and Every implement Supervisor.
func (b *bubble) Tell(state string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if state == "WATCHDOG=1" {
		b.fed = append(b.fed, time.Now())
	}
	return nil
}

func (b *bubble) Every() time.Duration { return 3 * time.Minute }

// open starts it.
func (b *bubble) open() {
	b.t.Helper()
	o := Options{Machine: b.machine, Log: slog.New(slog.DiscardHandler), Version: "test", Supervisor: b}
	if b.blind {
		o.Clock = blindClock{b.machine}
	}
	var err error
	if b.app, err = New(b.cfg, o); err != nil {
		b.t.Fatal(err)
	}
	b.app.page.listener.Close()
	b.app.page.listener = &deafListener{shut: make(chan struct{})}
	for _, way := range []*bubbleWay{b.phone, b.wall} {
		b.app.outbox.Shut(way.name)
		if err := b.app.outbox.Open(answerable{way, b.app.links, b.app.unreached}); err != nil {
			b.t.Fatal(err)
		}
	}
	b.app.heartbeat.send = func(context.Context, beat) error {
		b.mu.Lock()
		defer b.mu.Unlock()
		b.beats = append(b.beats, b.machine.truth())
		return nil
	}
	ctx, stop := context.WithCancel(context.Background())
	b.stop, b.done = stop, make(chan error, 1)
	go func(a *App) {
		b.done <- a.runBy(ctx, func() (func() error, error) { return func() error { return nil }, nil })
	}(b.app)
	b.t.Cleanup(b.close)
	synctest.Wait()
}

// close stops it; a test that fails before does so at its end.
func (b *bubble) close() {
	b.t.Helper()
	if b.stop == nil {
		return
	}
	b.stop()
	b.stop = nil
	if err := <-b.done; err != nil {
		b.t.Errorf("the daemon ended with %v", err)
	}
}

// A blindClock says what the clock on the wall says.
type blindClock struct{ *bubbleMachine }

func (c blindClock) Now() time.Time { wall, _ := c.Times(); return wall }

// say is a reading of a probe.
func (b *bubble) say(probe string, value float64) {
	b.t.Helper()
	payload := fmt.Sprintf(`{"v":%.1f}`, value)
	if err := b.app.intake.Submit(context.Background(), ingest.Message{Topic: "shop/" + probe, Payload: []byte(payload)}); err != nil {
		b.t.Fatal(err)
	}
}

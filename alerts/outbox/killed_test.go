package outbox_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"go.uber.org/goleak"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/alerts/push"
	"flitch/store"
)

// The steps of one message through the outbox, between every two of which the process
// is killed.
const (
	beforeAttempt = "before the attempt is stored"
	afterAttempt  = "after the attempt is stored"
	whileSending  = "while the other side has it and has not answered"
	afterSend     = "after the answer, before its end is stored"
	afterEnd      = "after the end is stored"
)

// The environment of a process that is to be killed.
const (
	victimPath  = "FLITCH_TEST_OUTBOX_DATABASE"
	victimPhone = "FLITCH_TEST_OUTBOX_PHONE"
	victimStep  = "FLITCH_TEST_OUTBOX_STEP"
	victimCount = "FLITCH_TEST_OUTBOX_COUNT" // of messages before, that get through
)

func TestMain(m *testing.M) {
	if path := os.Getenv(victimPath); path != "" {
		fmt.Fprintln(os.Stderr, beVictim(path))
		os.Exit(1) // it was to be killed
	}
	goleak.VerifyTestMain(m)
}

// deadly kills its own process at a step of the nth message. It stands between the
// outbox and its store, and around its channel.
type deadly struct {
	*store.DB
	outbox.Channel
	step  string
	count int // messages yet to be let through
}

func (d *deadly) at(step string) {
	if d.step == step && d.count == 0 {
		_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		select {} // dead in a moment
	}
}

func (d *deadly) BeginAttempt(message int64, at time.Time) error {
	d.at(beforeAttempt)
	err := d.DB.BeginAttempt(message, at)
	d.at(afterAttempt)
	return err
}

func (d *deadly) Send(ctx context.Context, m alerts.Message) (string, error) {
	receipt, err := d.Channel.Send(ctx, m)
	d.at(afterSend)
	return receipt, err
}

func (d *deadly) Settle(s alerts.Settlement) error {
	err := d.DB.Settle(s)
	d.at(afterEnd)
	d.count--
	return err
}

func beVictim(path string) error {
	db, err := store.Open(path)
	if err != nil {
		return err
	}
	pocket, err := push.New(push.Settings{Name: "pocket", Kind: "http", URL: os.Getenv(victimPhone)})
	if err != nil {
		return err
	}
	d := &deadly{DB: db, Channel: pocket, step: os.Getenv(victimStep)}
	if _, err := fmt.Sscan(os.Getenv(victimCount), &d.count); err != nil {
		return err
	}
	box, err := outbox.New(d, wall{}, []outbox.Channel{d}, outbox.Options{})
	if err != nil {
		return err
	}
	ctx, stop := context.WithTimeout(context.Background(), 20*time.Second)
	defer stop()
	return box.Run(ctx)
}

// A witness is a phone's server. While it is deaf it takes a message and answers
// nothing until the caller is gone.
type witness struct {
	mu     sync.Mutex
	titles map[int64][]string // by alarm
	deaf   bool
	count  int
	heard  chan struct{} // closed when it has taken the message it does not answer
}

func (w *witness) ServeHTTP(_ http.ResponseWriter, r *http.Request) {
	var body struct {
		Alarm int64
		Title string
	}
	if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
		return
	}
	w.mu.Lock()
	w.titles[body.Alarm] = append(w.titles[body.Alarm], body.Title)
	silent := w.deaf && w.count == 0
	w.count--
	w.mu.Unlock()
	if silent {
		close(w.heard)
		<-r.Context().Done()
	}
}

// Killed between every two steps: each message arrives, at most once more, under the
// same number, and the second time says that it may be a repeat.
func TestKilledBetweenTheSteps(t *testing.T) {
	const messages = 3
	for _, step := range []string{beforeAttempt, afterAttempt, whileSending, afterSend, afterEnd} {
		for before := range messages {
			t.Run(fmt.Sprintf("%s, message %d", step, before+1), func(t *testing.T) {
				t.Parallel()
				w := &witness{titles: map[int64][]string{}, deaf: step == whileSending, count: before, heard: make(chan struct{})}
				server := httptest.NewServer(w)
				defer server.Close()
				path := t.TempDir() + "/flitch.db"
				prepare(t, path, messages)
				killedAt(t, path, server.URL, step, before, w)
				w.mu.Lock()
				w.deaf = false
				w.mu.Unlock()
				deliverTheRest(t, path, server.URL)
				w.examine(t, messages, step)
			})
		}
	}
}

// forking is held while a process is started. Between its fork and its exec the child has the
// files of all parallel tests: were one closed and opened again just then, the lock of its
// database would seem to be another daemon's.
var forking sync.RWMutex

// prepare makes a database with messages that wait, and closes it.
func prepare(t *testing.T, path string, messages int) {
	t.Helper()
	forking.RLock()
	defer forking.RUnlock()
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	db := open(t, path)
	enqueue(t, db, messages)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// killedAt runs a process that is killed at the step.
func killedAt(t *testing.T, path, phone, step string, before int, w *witness) {
	t.Helper()
	victim := exec.Command(os.Args[0], "-test.run=^$")
	victim.Env = append(os.Environ(), victimPath+"="+path, victimPhone+"="+phone, victimStep+"="+step, fmt.Sprintf("%s=%d", victimCount, before))
	var said strings.Builder
	victim.Stderr = &said
	forking.Lock()
	err := victim.Start()
	forking.Unlock()
	if err != nil {
		t.Fatal(err)
	}
	if step == whileSending {
		<-w.heard
		if err := victim.Process.Kill(); err != nil {
			t.Fatal(err)
		}
	}
	_ = victim.Wait()
	if status := victim.ProcessState.Sys().(syscall.WaitStatus); !status.Signaled() || status.Signal() != syscall.SIGKILL {
		t.Fatalf("it was not killed: %s, %s", victim.ProcessState, said.String())
	}
}

// deliverTheRest is the next life.
func deliverTheRest(t *testing.T, path, phone string) {
	t.Helper()
	db := open(t, path)
	defer db.Close()
	settled := make(chan bool, 100)
	observe := func(string, alerts.Settlement, time.Duration) { settled <- true }
	pocket := channel(t, push.Settings{Name: "pocket", Kind: "http", URL: phone})
	box, err := outbox.New(db, wall{}, []outbox.Channel{pocket}, outbox.Options{Observe: observe})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); _ = box.Run(ctx) }()
	defer func() { stop(); <-done }()
	for limit := time.After(20 * time.Second); ; {
		if _, waiting, err := db.NextDue("pocket"); err != nil {
			t.Fatal(err)
		} else if !waiting {
			return
		}
		select {
		case <-limit:
			t.Fatal("messages are left")
		case <-settled:
		}
	}
}

func (w *witness) examine(t *testing.T, messages int, step string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	repeats := 0
	for alarm := int64(1); alarm <= int64(messages); alarm++ {
		titles := w.titles[alarm]
		if len(titles) < 1 || len(titles) > 2 || !strings.HasPrefix(titles[0], fmt.Sprintf("alarm %d", alarm)) {
			t.Errorf("alarm %d came as %q", alarm, titles)
		}
		if len(titles) == 2 {
			repeats++
			if titles[1] != titles[0]+" (may repeat)" {
				t.Errorf("the repeat of alarm %d says %q", alarm, titles[1])
			}
		}
	}
	if len(w.titles) != messages {
		t.Errorf("%d alarms came, of %d", len(w.titles), messages)
	}
	if took := step == whileSending || step == afterSend; took != (repeats == 1) {
		t.Errorf("%d repeats", repeats)
	}
}

package outbox_test

import (
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/alerts/push"
	"flitch/store"
)

// The ways in which the phone's server of the chaos misbehaves.
const (
	stalls    = "stalls until the caller gives up"
	resets    = "resets the connection"
	takesBoth = "takes it, and resets the connection"
	lies      = "takes it, and says 500"
	tooMany   = "429"
	broken    = "500"
	timedOut  = "408"
	away      = "is away"
	refuses   = "400, for good"
)

func faultsOfChaos() []string {
	return []string{stalls, resets, takesBoth, lies, tooMany, broken, timedOut, away, refuses}
}

// A chaosPhone is a real server that misbehaves by a seed.
type chaosPhone struct {
	mu       sync.Mutex
	random   *rand.Rand
	injected map[string]int
	took     map[int64]int // deliveries by message
	refused  map[int64]bool
	perhaps  map[int64]int // attempts of a message that were taken and looked lost to the sender
	silent   map[int64]int // attempts of a message that were to get no answer
	titles   map[int64][]string
	alarms   map[int64]int64
	gone     int // requests for which it is away
}

func (c *chaosPhone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var body struct {
		Alarm, Message int64
		Title          string
	}
	if err := json.NewDecoder(r.Body).Decode(&body); err != nil {
		return
	}
	fault := c.next(body.Message)
	if fault == "" || fault == lies || fault == takesBoth {
		c.take(body.Message, body.Alarm, body.Title)
	}
	switch fault {
	case stalls:
		<-r.Context().Done()
	case resets, takesBoth, away:
		panic(http.ErrAbortHandler)
	case lies, broken:
		w.WriteHeader(http.StatusInternalServerError)
	case tooMany:
		w.WriteHeader(http.StatusTooManyRequests)
	case timedOut:
		w.WriteHeader(http.StatusRequestTimeout)
	case refuses:
		w.WriteHeader(http.StatusBadRequest)
	}
}

// next picks what goes wrong with a request: two of three do. One that is away stays so
// for a while.
func (c *chaosPhone) next(message int64) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	fault := ""
	switch all := faultsOfChaos(); {
	case c.gone > 0:
		c.gone--
		fault = away
	case c.random.IntN(3) == 0:
		return ""
	default:
		if fault = all[c.random.IntN(len(all))]; fault == away {
			c.gone = c.random.IntN(6)
		}
	}
	switch fault {
	case refuses:
		c.refused[message] = true
	case lies, takesBoth:
		c.perhaps[message]++
	}
	switch fault {
	case stalls, resets, takesBoth, away:
		c.silent[message]++
	}
	c.injected[fault]++
	return fault
}

func (c *chaosPhone) take(message, alarm int64, title string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.took[message]++
	c.titles[message] = append(c.titles[message], title)
	c.alarms[message] = alarm
}

type wall struct{}

func (wall) Now() time.Time                         { return time.Now() }
func (wall) After(d time.Duration) <-chan time.Time { return time.After(d) }

// Each message arrives, through a server that does all a server can do wrong; once more
// for each time that it took one and said otherwise, and never under another number. One
// that is refused for good is told through the next channel.
func TestChaosOfThePhone(t *testing.T) {
	const messages = 250
	chaos := &chaosPhone{random: rand.New(rand.NewPCG(2031, 11)), injected: map[string]int{}, took: map[int64]int{}, refused: map[int64]bool{},
		perhaps: map[int64]int{}, silent: map[int64]int{}, titles: map[int64][]string{}, alarms: map[int64]int64{}}
	server := httptest.NewServer(chaos)
	defer server.Close()
	server.Config.ErrorLog = nil
	db := newStore(t)
	pocket := channel(t, push.Settings{Name: "pocket", Kind: "http", URL: server.URL, Deadline: 100 * time.Millisecond})
	var mu sync.Mutex
	otherWay := map[int64]bool{}
	settled := make(chan alerts.Settlement, 10*messages)
	box, err := outbox.New(db, wall{}, []outbox.Channel{pocket}, outbox.Options{
		Backoff: outbox.Backoff{First: time.Millisecond, Max: 4 * time.Millisecond, MaxAfter: 4 * time.Millisecond},
		Failed: func(f outbox.Failure) {
			mu.Lock()
			defer mu.Unlock()
			otherWay[f.Message.ID] = f.Final
		},
		Observe: func(_ string, s alerts.Settlement, _ time.Duration) { settled <- s },
	})
	if err != nil {
		t.Fatal(err)
	}
	ids := enqueue(t, db, messages)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); _ = box.Run(ctx) }()
	left, limit, unanswered := messages, time.After(3*time.Minute), map[int64]int{}
	for left > 0 {
		select {
		case s := <-settled:
			if s.Outcome != alerts.RetryAt {
				left--
			}
			if s.Receipt == alerts.MayHaveCome {
				unanswered[s.Message]++
			}
		case <-limit:
			t.Fatalf("%d messages are under way yet", left)
		}
	}
	stop()
	<-done
	server.Close()
	chaos.examine(t, ids, otherWay, unanswered)
}

func (c *chaosPhone) examine(t *testing.T, ids []int64, otherWay map[int64]bool, unanswered map[int64]int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, fault := range faultsOfChaos() {
		if c.injected[fault] == 0 {
			t.Errorf("no server ever %q: this shows nothing of it", fault)
		}
	}
	for i, id := range ids {
		late := max(0, unanswered[id]-c.silent[id]) // answered, and not in time: a busy machine
		switch {
		case c.refused[id] && !otherWay[id]:
			t.Errorf("message %d was refused for good, and nobody heard", id)
		case !c.refused[id] && c.took[id] == 0:
			t.Errorf("message %d is lost", id)
		case c.took[id] > 1+c.perhaps[id]+late:
			t.Errorf("message %d came %d times, and only %d times without an answer that says so", id, c.took[id], c.perhaps[id]+late)
		case c.took[id] > 0 && c.alarms[id] != int64(i+1):
			t.Errorf("message %d came with alarm %d, want %d", id, c.alarms[id], i+1)
		}
		for _, title := range c.titles[id] {
			if !strings.HasPrefix(title, fmt.Sprintf("alarm %d", i+1)) {
				t.Errorf("message %d says %q", id, title)
			}
		}
	}
	t.Logf("injected %v", c.injected)
}

func newStore(t *testing.T) *store.DB {
	t.Helper()
	path := t.TempDir() + "/flitch.db"
	if err := store.Create(path); err != nil {
		t.Fatal(err)
	}
	return open(t, path)
}

func open(t *testing.T, path string) *store.DB {
	t.Helper()
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func channel(t *testing.T, s push.Settings) *push.Channel {
	t.Helper()
	c, err := push.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// enqueue stores messages of the alarms 1 to n: rings and tells by turns.
func enqueue(t *testing.T, db *store.DB, n int) (ids []int64) {
	t.Helper()
	err := db.Update(func(tx *store.Tx) error {
		for i := range n {
			m := alerts.Message{Alarm: int64(i + 1), Kind: alerts.Raised, Entry: "H3", Level: alerts.Ring, Channel: "pocket",
				Subject: fmt.Sprintf("alarm %d", i+1), Body: "Relight.", Due: time.Now()}
			if i%2 == 1 {
				m.Level = alerts.Tell
			}
			id, err := tx.Enqueue(m)
			if err != nil {
				return err
			}
			ids = append(ids, id)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return ids
}

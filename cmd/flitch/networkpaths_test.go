package main

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

// A deskPhone is somebody's way to be told, of a kind.
type deskPhone struct {
	server *httptest.Server
	mu     sync.Mutex
	heard  []string
	tried  int
}

// newDeskPhone answers by do; nil takes every message.
func newDeskPhone(t *testing.T, do http.HandlerFunc) *deskPhone {
	p := &deskPhone{}
	p.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		p.mu.Lock()
		p.tried++
		if do == nil {
			p.heard = append(p.heard, string(text))
		}
		p.mu.Unlock()
		if do != nil {
			do(w, r)
		}
	}))
	t.Cleanup(func() { p.server.CloseClientConnections(); p.server.Close() })
	return p
}

// waits until a message with the text has come, and returns after how long.
func (p *deskPhone) waits(t *testing.T, text string) time.Duration {
	t.Helper()
	began := time.Now()
	for range 4000 {
		p.mu.Lock()
		all := strings.Join(p.heard, "\n")
		p.mu.Unlock()
		if strings.Contains(all, text) {
			return time.Since(began)
		}
		<-time.After(5 * time.Millisecond)
	}
	t.Fatalf("a phone never heard %q but %q", text, p.heard)
	return 0
}

// One way to a person takes 25 s for an answer, one says come again later, one takes the
// connection and never answers, one is not there: who has another way is told at once, and of the dead ways.
func TestASlowWayHoldsUpNobody(t *testing.T) {
	over := make(chan struct{})
	defer close(over)
	slow := newDeskPhone(t, func(_ http.ResponseWriter, r *http.Request) {
		select {
		case <-time.After(25 * time.Second):
		case <-over:
		case <-r.Context().Done():
		}
	})
	busy := newDeskPhone(t, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Retry-After", "600")
		w.WriteHeader(http.StatusTooManyRequests)
	})
	deaf, err := net.Listen("tcp", "127.0.0.1:0") // the kernel takes the connection, and nobody reads
	if err != nil {
		t.Fatal(err)
	}
	defer deaf.Close()
	gone := mqtttest.FreeAddress(t)
	good := newDeskPhone(t, nil)
	l := external(t, "mqtt://broker.invalid:1883")
	channels := ""
	for name, url := range map[string]string{"slow": slow.server.URL, "busy": busy.server.URL, "deaf": "http://" + deaf.Addr().String(), "gone": "http://" + gone, "good": good.server.URL} {
		channels += fmt.Sprintf("\n[[channel]]\nname = %q\nkind = \"http\"\nlevel = \"tell\"\ndeadline = \"1s\"\nurl = %q\n", name, url)
	}
	l.amend("\n[[probe]]", "\n[[probe]]", channels)
	m := l.startAt(time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC))
	m.until("/healthz", "broker")
	m.passUntilHome(12, "Out of reach")
	if took := good.waits(t, "Out of reach: broker"); took > 15*time.Second {
		t.Errorf("beside four dead ways a ring took %v", took)
	}
	minutes := m.passUntil(30, "told of each dead way", func() bool {
		for _, dead := range []string{"slow", "busy", "deaf", "gone"} {
			if !good.has("phone path " + dead) {
				return false
			}
		}
		return true
	})
	for range 12 { // in which the busy one would be asked again and again
		m.move("pass 1m")
		minutes++
		<-time.After(100 * time.Millisecond)
	}
	good.mu.Lock()
	messages := len(good.heard)
	good.mu.Unlock()
	t.Logf("4 dead ways, %d messages in %d minutes; the slow one was tried %d times, the busy one %d", messages, minutes, slow.tries(), busy.tries())
	if n := busy.tries(); n > messages*(1+minutes/10) { // each ring is tried once all the same, and again after ten minutes
		t.Errorf("a service that asked for ten minutes of quiet was asked %d times in %d, for %d messages", n, minutes, messages)
	}
}

func (p *deskPhone) tries() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.tried
}

// The name of the outside broker cannot be resolved: flitch runs, says so, and rings after
// five minutes.
func TestTheNameOfTheBrokerIsGone(t *testing.T) {
	l := external(t, "mqtt://broker.invalid:1883")
	m := l.startAt(time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC))
	m.until("/healthz", "broker")
	m.passUntilHome(14, "Out of reach")
	t.Log("1 name gone")
}

func external(t *testing.T, url string) *larder {
	l := installed(t, t.TempDir())
	l.amend("mode = \"embedded\"", "mode = \"external\"\nurl = \""+url+"\"\nclient_id = \"flitch\"", "")
	l.amend("\nlisten = \"127.0.0.1:0\"   # for sensors", "\n# ", "")
	return l
}

// The outside broker goes away and comes back: flitch says so, and what is published
// afterwards is stored, once.
func TestTheBrokerComesAndGoes(t *testing.T) {
	broker := mqtttest.StartMosquitto(t)
	l := external(t, "mqtt://"+broker.Addr)
	m := l.startAt(time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC))
	sent := 1
	publish := func() {
		if err := mqtttest.Pub(t, broker.Addr, "larder/alder/bottle", fmt.Sprintf(`{"temperature":3,"time":"2031-05-05T06:00:%02dZ"}`, sent), 1); err != nil {
			t.Fatal(err)
		}
	}
	faults := 0
	for publish(); !strings.Contains(m.body("/metrics"), "flitch_intake_stored_total 1"); {
		publish() // again, until the first subscription of all stands: what comes before has no queue
	}
	for range 3 {
		broker.Stop()
		faults++
		m.until("/healthz", "broker")
		broker.Start()
		m.without("/healthz", "broker") // subscribed again, or the message is lost with the broker's memory
		sent++
		publish()
		m.until("/metrics", fmt.Sprintf("flitch_intake_stored_total %d", sent))
	}
	l.kill()
	if n := l.stored()["alder-bottle"]; n != sent {
		t.Errorf("%d readings are stored of %d", n, sent)
	}
	t.Logf("%d times the broker was stopped", faults)
}

// without asks until the answer no longer has a text.
func (m *moved) without(path, text string) {
	m.t.Helper()
	for range 8000 {
		if body := m.body(path); body != "" && !strings.Contains(body, text) {
			return
		}
		<-time.After(5 * time.Millisecond)
	}
	m.t.Fatalf("%s says %q for ever", path, text)
}

// Page and sensors over IPv6 alone.
func TestTheLoopbackOfIPv6(t *testing.T) {
	l := installed(t, t.TempDir())
	l.amend("listen = \"127.0.0.1:0\"           # only", "listen = \"[::1]:0\"           # only", probesNamed(1))
	l.amend("listen = \"127.0.0.1:0\"   # for sensors", "listen = \"[::1]:0\"   # for sensors", "")
	m := l.startAt(time.Date(2031, 5, 5, 6, 1, 0, 0, time.UTC))
	if !strings.HasPrefix(m.broker, "[::1]:") || !strings.HasPrefix(m.page, "http://[::1]:") {
		t.Fatalf("page %s, broker %s", m.page, m.broker)
	}
	if err := hand(m.broker, "six", "shop/p0", []string{`{"t":"2031-05-05T06:00:00Z","v":3}`}); err != nil {
		t.Fatal(err)
	}
	m.until("/places", "3.0")
}

package api

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// A phone is the far end of a stream. Its network can be made to hang up.
type phone struct {
	*httptest.ResponseRecorder
	mu        sync.Mutex
	deadlines []time.Time
	gone      bool
}

func (p *phone) SetWriteDeadline(t time.Time) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.deadlines = append(p.deadlines, t)
	return nil
}

func (p *phone) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.gone {
		return 0, errors.New("write: i/o timeout")
	}
	return p.ResponseRecorder.Write(b)
}

func (p *phone) hangUp() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.gone = true
}

func (p *phone) waits() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.deadlines)
}

func (p *phone) heard(event string) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Count(p.Body.String(), "event: "+event+"\n")
}

// bubbleClock is the fake time inside a synctest bubble.
type bubbleClock struct{}

func (bubbleClock) Now() time.Time                         { return time.Now() }
func (bubbleClock) After(d time.Duration) <-chan time.Time { return time.After(d) }

// following runs one stream in a bubble and hands over its parts.
func following(t *testing.T, check func(p *phone, events *Events, leave func())) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		deps := (&house{}).deps()
		deps.Wall = bubbleClock{}
		p := &phone{ResponseRecorder: httptest.NewRecorder()}
		ctx, leave := context.WithCancel(context.Background())
		defer leave()
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			New(deps).ServeHTTP(p, request(http.MethodGet, "/api/events", "").WithContext(ctx))
		}()
		synctest.Wait()
		check(p, deps.Events, leave)
		leave()
		<-ended
		if n := deps.Events.Followers(); n != 0 {
			t.Errorf("%d still follow after the end", n)
		}
	})
}

func TestBeatEveryTwoSeconds(t *testing.T) {
	following(t, func(p *phone, _ *Events, _ func()) {
		<-time.After(10*time.Second + time.Millisecond) // of the bubble
		synctest.Wait()
		if n := p.heard("beat"); n != 6 {
			t.Errorf("%d beats in 10 s, want 6: one at once and then each 2 s", n)
		}
		if n := p.waits(); n != 6 {
			t.Errorf("%d deadlines set for 6 writes", n)
		}
		if p.Header().Get("Content-Type") != "text/event-stream" {
			t.Errorf("content type %q", p.Header().Get("Content-Type"))
		}
	})
}

func TestChangesAreToldAtOnceAndNotCrowded(t *testing.T) {
	following(t, func(p *phone, events *Events, _ func()) {
		events.Changed()
		synctest.Wait()
		if n := p.heard("glance"); n != 1 {
			t.Fatalf("%d told, want 1 at once", n)
		}
		for range 100 {
			events.Changed()
		}
		synctest.Wait()
		if n := p.heard("glance"); n != 1 {
			t.Errorf("%d told within the quiet second, want 1", n)
		}
		<-time.After(quiet + time.Millisecond)
		synctest.Wait()
		if n := p.heard("glance"); n != 2 {
			t.Errorf("%d told after the quiet second, want 2: the last change is never lost", n)
		}
	})
}

func TestSlowPhoneIsDropped(t *testing.T) {
	following(t, func(p *phone, events *Events, _ func()) {
		p.hangUp()
		events.Changed()
		synctest.Wait()
		if n := events.Followers(); n != 0 {
			t.Errorf("%d follow, want none", n)
		}
	})
}

func TestStreamsEndWhenFlitchStops(t *testing.T) {
	following(t, func(p *phone, events *Events, _ func()) {
		events.Close()
		events.Close()
		synctest.Wait()
		if n := events.Followers(); n != 0 {
			t.Errorf("%d follow, want none", n)
		}
	})
}

func TestFollowersAreBounded(t *testing.T) {
	deps := (&house{}).deps()
	for i := range maxSubscribers {
		if _, ok := deps.Events.follow(houseOf(fmt.Sprintf("10.0.0.%d:99", i))); !ok {
			t.Fatal("refused before the bound")
		}
	}
	w := ask(t, New(deps), request(http.MethodGet, "/api/events", ""))
	if w.Code != http.StatusServiceUnavailable {
		t.Errorf("%d, want 503", w.Code)
	}
	deps.Events.Changed() // nobody reads; it must not wait
	deps.Events.Changed()
}

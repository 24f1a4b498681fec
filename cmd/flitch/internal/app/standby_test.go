package app

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// What is stored and makes no sense any more keeps flitch from watching: people are told,
// once, and the page says so, until the database is another one.
func TestStandByTellsPeople(t *testing.T) {
	s := newShop(t)
	s.cfg.Page.Listen = mqtttest.FreeAddress(t)
	db, err := store.Open(s.cfg.Site.Database)
	if err != nil {
		t.Fatal(err)
	}
	err = db.Update(func(tx *store.Tx) error { return tx.SavePlace("*", 1, []byte("{half a li")) })
	if err != nil || db.Close() != nil {
		t.Fatal(err)
	}
	o := Options{Clock: s.clock, Log: slog.New(slog.DiscardHandler)}
	_, why := New(s.cfg, o)
	if !IsDisk(why) {
		t.Fatalf("New: %v", why)
	}
	var idle StandBy
	for range 2 {
		ctx, stop := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { defer close(done); idle.Wait(ctx, s.cfg, o, why) }()
		said := func() bool {
			response, err := http.Get("http://" + s.cfg.Page.Listen + "/healthz")
			if err != nil {
				return false
			}
			defer response.Body.Close()
			text, _ := io.ReadAll(response.Body)
			return response.StatusCode == http.StatusServiceUnavailable && strings.Contains(string(text), "flitch restore COPY")
		}
		if !s.until(said) || !s.until(func() bool { return len(s.phone.all()) > 0 }) {
			t.Error("nobody was told")
		}
		stop()
		<-done
	}
	if got := s.phone.all(); len(got) != 1 || got[0].Title != "RING flitch is not watching" {
		t.Errorf("the phone has %+v", got)
	}
}

// A disk is slow when several writes were, and quick again a minute after the last.
func TestPace(t *testing.T) {
	var p pace
	now := time.Now()
	ask := func(after time.Duration, words string, known bool) {
		t.Helper()
		if w, k := p.judge(now.Add(after)); !strings.Contains(w, words) || (words == "") != (w == "") || k != known {
			t.Errorf("after %s: %q, %v; want %q, %v", after, w, k, words, known)
		}
	}
	p.committed(999*time.Millisecond, nil)
	ask(0, "", true)
	p.committed(time.Second, nil)
	p.committed(3*time.Second, nil)
	ask(0, "", false)
	p.committed(time.Second, nil)
	ask(time.Second, "3 writes took a second or more within a minute, the longest 3.0 s", true)
	ask(2*time.Minute, "", true)
}

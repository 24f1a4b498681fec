package app

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store"
)

// A heardLog passes on what is logged.
type heardLog struct {
	slog.Handler
	said chan string
}

func (heardLog) Enabled(context.Context, slog.Level) bool { return true }

func (l heardLog) Handle(_ context.Context, r slog.Record) error {
	select {
	case l.said <- r.Message:
	default: // nobody listens any more
	}
	return nil
}

// until waits for what is logged.
func (l heardLog) until(message string) {
	for said := range l.said {
		if said == message {
			return
		}
	}
}

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
	if !StandsBy(why, s.cfg, o) {
		t.Fatalf("New: %v", why)
	}
	log := heardLog{slog.DiscardHandler, make(chan string, 100)}
	o.Log = slog.New(log)
	var idle StandBy
	for try := range 2 {
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
		if !s.until(said) {
			t.Error("the page does not say it")
		}
		if try == 0 {
			log.until(newsGiven) // the phone's answer has come: it is known that people were told
		}
		stop()
		<-done
	}
	if got := s.phone.all(); len(got) != 1 || got[0].Title != "RING flitch is not watching" {
		t.Errorf("the phone has %+v", got)
	}
}

// A way that takes the news when no more tries are wanted has taken it; one that refused it is
// not asked again.
func TestTheAttemptUnderWayIsWaitedFor(t *testing.T) {
	for _, status := range []int{http.StatusOK, http.StatusServiceUnavailable} {
		tries, stop := context.WithCancel(t.Context())
		asked := 0
		service := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			asked++
			stop()
			w.WriteHeader(status)
		}))
		s := newShop(t)
		s.cfg.Channels[0].Text = map[string]string{"url": service.URL}
		a := &App{cfg: s.cfg, clock: Wall{}, log: slog.New(slog.DiscardHandler)}
		took := a.tellStandingBy(t.Context(), tries, "why")
		service.Close()
		if want := map[int]int{http.StatusOK: 1}[status]; took != want || asked != 1 {
			t.Errorf("answered %d: %d ways took it, want %d; asked %d times", status, took, want, asked)
		}
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

// What stands by with whom: the disk always, all else where a supervisor would start flitch
// again and again.
func TestWhatIsToldWhenAStartFails(t *testing.T) {
	s := newShop(t)
	supervised := Options{Supervisor: testSupervisor{}}
	alone := Options{Log: slog.New(slog.DiscardHandler)}
	cfg := *s.cfg
	starts := func(change func(path string) error) error {
		t.Helper()
		cfg.Site.Database = filepath.Join(t.TempDir(), "flitch.db")
		if err := store.Create(cfg.Site.Database); err != nil {
			t.Fatal(err)
		}
		if err := change(cfg.Site.Database); err != nil {
			t.Fatal(err)
		}
		a, err := New(&cfg, alone)
		if err == nil {
			a.release()
			t.Fatal("it starts")
		}
		return err
	}
	for name, c := range map[string]struct {
		change func(path string) error
		alone  bool // also without a supervisor
		advice string
	}{
		"missing": {os.Remove, false, "is its disk or card there?"},
		"gone":    {func(path string) error { return errors.Join(os.Remove(path), os.WriteFile(path+".key", nil, 0o600)) }, true, "is its disk or card there?"},
		"emptied": {func(path string) error { return os.Truncate(path, 0) }, true, "flitch restore COPY"},
		"garbage": {func(path string) error { return os.WriteFile(path, bytes.Repeat([]byte("x"), 8192), 0o600) }, true, "flitch restore COPY"},
		"folder":  {func(path string) error { return errors.Join(os.Remove(path), os.Mkdir(path, 0o700)) }, false, ""},
		"key":     {func(path string) error { return os.WriteFile(path+".key", []byte("short"), 0o600) }, false, ""},
	} {
		err := starts(c.change)
		if !StandsBy(err, &cfg, supervised) || StandsBy(err, &cfg, alone) != c.alone {
			t.Errorf("%s: %v: stands by with a supervisor %v, alone %v", name, err, StandsBy(err, &cfg, supervised), StandsBy(err, &cfg, alone))
		}
		a := &App{cfg: s.cfg}
		if got := a.standByAdvice(err); !strings.Contains(got, c.advice) || c.advice == "" && got != "" {
			t.Errorf("%s: the advice is %q, want %q", name, got, c.advice)
		}
	}
	if StandsBy(nil, s.cfg, supervised) || StandsBy(ErrAgain, s.cfg, supervised) {
		t.Error("it stands by and nothing is wrong")
	}
}

// Each page of the file in turn cannot be read at the start: that is said or lived with, and
// never ends flitch in a panic.
func TestAStartWithAnyPageDamaged(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.close()
	whole, err := os.ReadFile(s.cfg.Site.Database)
	if err != nil {
		t.Fatal(err)
	}
	size := int(binary.BigEndian.Uint16(whole[16:]))
	refused := 0
	for at := 0; at < len(whole); at += size {
		damaged := bytes.Clone(whole)
		copy(damaged[at:at+size], bytes.Repeat([]byte{0xff}, size))
		if err := os.WriteFile(s.cfg.Site.Database, damaged, 0o600); err != nil {
			t.Fatal(err)
		}
		a, err := New(s.cfg, Options{Log: slog.New(slog.DiscardHandler)})
		if err == nil {
			a.release()
			continue
		}
		if refused++; !StandsBy(err, s.cfg, Options{}) {
			t.Errorf("page %d: nobody is told of %v", at/size+1, err)
		}
	}
	if refused < 10 {
		t.Errorf("only %d starts were refused of %d", refused, len(whole)/size)
	}
}

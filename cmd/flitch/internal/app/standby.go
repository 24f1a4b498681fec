package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"os"
	"strings"
	"sync"
	"time"

	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/config"
	"flitch/process/engine"
	"flitch/store"
)

// How long a database that cannot be opened is left alone: proposals. A full disk may have
// room at any moment; a damaged file is somebody's to change.
const (
	openAgain    = 10 * time.Second
	damagedAgain = time.Minute
)

// newsGiven is what the log says when everybody was told, or could not be.
const newsGiven = "people were told that flitch does not watch"

// A StandBy stays when flitch cannot start: a start that ends, and is made again
// by whoever supervises it, for ever, would tell nobody. Its zero value is ready.
type StandBy struct {
	why  string // what people were told of
	told time.Time
}

// StandsBy reports whether a start that failed is of the kind that is told to people and tried
// again: what lies with the disk, the file or what is stored, and a database that is gone; all
// else under a supervisor. Without one somebody sits before it, perhaps for the first time.
func StandsBy(err error, cfg *config.Config, o Options) bool {
	if err == nil || errors.Is(err, ErrAgain) {
		return false
	}
	f := store.FaultOf(err)
	lies := f != store.NoFault && f != store.Other || errors.Is(err, engine.ErrStored)
	return lies || o.Supervisor != nil || errors.Is(err, store.ErrMissing) && ranBefore(cfg.Site.Database)
}

// ranBefore reports whether flitch has run on that database: its files beside it are there.
func ranBefore(database string) bool {
	for _, end := range []string{".key", ".ballast"} {
		if _, err := os.Stat(database + end); err == nil {
			return true
		}
	}
	return false
}

// Wait tells people through every channel that flitch does not watch, and why; says so on
// the page; and returns when the database may be tried again, or ctx ends. A way that is slow
// to take the news is waited for: whoever was told by it is not told at each try.
func (s *StandBy) Wait(ctx context.Context, cfg *config.Config, o Options, why error) {
	a := &App{cfg: cfg, clock: o.Clock, log: o.Log, supervisor: o.Supervisor, ballast: ballast{path: cfg.Site.Database + ".ballast"}}
	if a.clock == nil {
		a.clock = Wall{}
	}
	fault, wait := store.FaultOf(why), openAgain
	if fault == store.Full && a.ballast.drop() {
		return // there is room now, for the alarm at least
	}
	if fault == store.Corrupt || errors.Is(why, engine.ErrStored) { // a file that is damaged, or what stands in it
		wait = damagedAgain
	}
	text := strings.TrimSpace(diskWords(why) + "\n" + a.standByAdvice(why))
	kind := fault.String()
	if fault == store.Other {
		kind = text // which is not another at each try, as an errno may be
	}
	tries, stop := context.WithTimeout(ctx, wait)
	defer stop()
	var busy sync.WaitGroup
	busy.Go(func() { <-tries.Done() })
	if now := a.clock.Now(); kind != s.why || now.Sub(s.told) >= toldAgain {
		s.why, s.told = kind, now
		a.log.Error("nothing is watched: flitch cannot start", "text", text, "again", wait)
		busy.Go(func() {
			told := a.tellStandingBy(ctx, tries, text)
			a.log.Info(newsGiven, "ways", told)
			if told == 0 {
				s.told = time.Time{} // and again at the next try
			}
		})
	}
	a.tellSupervisor("READY=1")
	over := make(chan struct{})
	go func() { busy.Wait(); close(over) }()
	a.standBy(over, text)
}

func (a *App) standByAdvice(why error) string {
	switch f := store.FaultOf(why); {
	case errors.Is(why, store.ErrMissing):
		return "is its disk or card there? If it is gone: " + a.restoreAdvice() + "; if there never was one: flitch init --database " + a.cfg.Site.Database
	case errors.Is(why, store.ErrEmpty):
		return a.restoreAdvice() + "; if nothing was ever in it: flitch init --database " + a.cfg.Site.Database
	case f == store.Full:
		return "free some space or change the disk"
	case f == store.Corrupt, errors.Is(why, engine.ErrStored):
		return a.restoreAdvice()
	case f == store.Other: // it says itself what it is
		return ""
	}
	return "look at the disk: is it there, writable and whole? If it is not: " + a.restoreAdvice()
}

// tellStandingBy sends the news on every channel. Phones of web push are in the database.
func (a *App) tellStandingBy(ctx, tries context.Context, text string) int {
	var channels []outbox.Channel
	for _, c := range a.cfg.Channels {
		if ch, err := Channel(c); err == nil {
			channels = append(channels, ch)
		}
	}
	var err error
	if a.outbox, err = outbox.New(nil, a.clock, channels, outbox.Options{Log: slog.New(slog.DiscardHandler)}); err != nil {
		a.log.Error("nobody was told", "err", err)
		return 0
	}
	m := a.diskNews(engine.FaultDisk, "")
	m.Subject, m.Body = "RING flitch is not watching", text
	return a.sendUnstored(ctx, tries, m)
}

// standBy answers on the page and feeds the supervisor until it is over.
func (a *App) standBy(over <-chan struct{}, text string) {
	if err := a.buildTLS(); err != nil {
		a.log.Error("the page cannot say that nothing is watched", "err", err)
	} else if page, err := a.listen("the page", a.cfg.Page.Listen, notWatching(text)); err != nil {
		a.log.Error("the page cannot say that nothing is watched", "err", err)
	} else {
		page.server.TLSConfig = a.tls
		serving := start("page", page.serve)
		defer serving.end()
	}
	for {
		a.tellSupervisor("WATCHDOG=1")
		feed := time.Hour
		if a.supervisor != nil && a.supervisor.Every() > 0 {
			feed = a.supervisor.Every() / 4
		}
		select {
		case <-over:
			return
		case <-Wall{}.After(feed):
		}
	}
}

// untilOver is what a person does, and flitch.
const untilOver = "write temperatures down by hand; flitch tries again by itself"

// notWatching says so to everybody who asks: in the words of the interface to what asks there,
// so that it is not taken for something else than flitch.
func notWatching(text string) http.Handler {
	said := "flitch is not watching: " + text
	mux := http.NewServeMux()
	answer := func(path, kind string, body any) {
		mux.HandleFunc(path, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", kind)
			w.WriteHeader(http.StatusServiceUnavailable)
			if words, plain := body.(string); plain {
				fmt.Fprintln(w, words)
				return
			}
			_ = json.NewEncoder(w).Encode(body) // whoever asked may have gone
		})
	}
	answer("/", "text/plain; charset=utf-8", said+"\nUntil this is over, "+untilOver+".")
	answer("/api/", "application/json", map[string]string{"error": said, "hint": untilOver})
	answer("/healthz", "application/json", map[string]any{"ok": false, "faults": []map[string]string{{"name": "start", "text": said}}})
	return mux
}

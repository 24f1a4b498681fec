package app

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
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

// A StandBy stays when the database cannot be opened: a start that ends, and is made again
// by whoever supervises it, for ever, would tell nobody. Its zero value is ready.
type StandBy struct {
	why  store.Fault // that people were told of
	told time.Time
}

// IsDisk reports whether New failed for the disk's or the file's sake, so that standing by
// is of use.
func IsDisk(err error) bool {
	f := store.FaultOf(err)
	return f != store.NoFault && f != store.Other
}

// Wait tells people through every channel that flitch does not watch, and why; says so on
// the page; and returns when the database may be tried again, or ctx ends.
func (s *StandBy) Wait(ctx context.Context, cfg *config.Config, o Options, why error) {
	a := &App{cfg: cfg, clock: o.Clock, log: o.Log, supervisor: o.Supervisor, ballast: ballast{path: cfg.Site.Database + ".ballast"}}
	if a.clock == nil {
		a.clock = Wall{}
	}
	fault, wait := store.FaultOf(why), openAgain
	if fault == store.Full && a.ballast.drop() {
		return // there is room now, for the alarm at least
	}
	if fault == store.Corrupt {
		wait = damagedAgain
	}
	text := diskWords(why) + "\n" + a.standByAdvice(fault)
	if now := a.clock.Now(); fault != s.why || now.Sub(s.told) >= toldAgain {
		s.why, s.told = fault, now
		a.log.Error("nothing is watched: the database cannot be opened", "text", text, "again", wait)
		news := start("news", func(ctx context.Context) error {
			if a.tellStandingBy(ctx, text) == 0 {
				s.told = time.Time{} // and again at the next try
			}
			return nil
		})
		defer news.end()
	}
	over, stop := context.WithTimeout(ctx, wait)
	defer stop()
	a.tellSupervisor("READY=1")
	a.standBy(over, text)
}

func (a *App) standByAdvice(f store.Fault) string {
	switch f {
	case store.Full:
		return "free some space or change the disk"
	case store.Corrupt:
		return a.restoreAdvice()
	}
	return "look at the disk: is it there, writable and whole? If it is not: " + a.restoreAdvice()
}

// tellStandingBy sends the news on every channel. Phones of web push are in the database.
func (a *App) tellStandingBy(ctx context.Context, text string) int {
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
	return a.sendUnstored(ctx, m)
}

// standBy answers on the page and feeds the supervisor until ctx ends.
func (a *App) standBy(ctx context.Context, text string) {
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
		case <-ctx.Done():
			return
		case <-Wall{}.After(feed):
		}
	}
}

func notWatching(text string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.WriteHeader(http.StatusServiceUnavailable)
		fmt.Fprintf(w, "flitch is not watching: %s\nWrite temperatures down by hand until this is over. It tries again by itself.\n", text)
	})
}

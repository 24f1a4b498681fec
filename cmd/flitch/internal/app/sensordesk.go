package app

import (
	"context"
	"log/slog"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"flitch/ingest"
	"flitch/process"
)

const (
	// goodbyeWait is how long, beside its interval, a device that said it is gone may
	// stay away before that counts. Every new connection ends the one before with its
	// last will, and a sensor that sleeps between two readings says goodbye each time
	// (proposal).
	goodbyeWait = time.Minute

	sensorLook  = 5 * time.Second // how often the desk looks
	askedBefore = 2 * time.Minute // after a start, devices have told by then what they ask for
	asksKept    = 8               // most things one device may ask for at once; own bound
)

// A sensorDesk hears what devices tell of themselves, and tells the engine what lasts.
// What it has not told yet is lost at a restart: silence then counts as it always does.
type sensorDesk struct {
	clock    Clock
	interval map[string]time.Duration // of the probes of devices that have such words
	say      func(context.Context, process.SensorWord, time.Time) error
	places   func() []*process.Place
	log      *slog.Logger

	mu   sync.Mutex
	gone map[string]ingest.Said       // by probe: not told yet
	asks map[string]map[string]string // by probe, by what the device calls it
	news map[string]bool              // probes whose asks are not told yet
}

func (a *App) buildSensors() *sensorDesk {
	d := &sensorDesk{clock: a.clock, interval: map[string]time.Duration{}, log: a.log,
		say: func(ctx context.Context, w process.SensorWord, at time.Time) error {
			return a.engine.Sensor(ctx, w, at)
		},
		places: func() []*process.Place { return a.engine.Places() },
		gone:   map[string]ingest.Said{}, asks: map[string]map[string]string{}, news: map[string]bool{}}
	for _, p := range a.cfg.Probes {
		if p.Protocol != "" {
			d.interval[p.Name] = p.Interval
		}
	}
	return d
}

// hear takes a word of a device. It does not wait.
func (d *sensorDesk) hear(s ingest.Said) {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case s.Gone:
		if _, waits := d.gone[s.Probe]; !waits {
			d.gone[s.Probe] = s
		}
	case s.Back:
		delete(d.gone, s.Probe)
	default:
		d.asked(s.Probe, s.Words, s.Asks)
	}
}

// asked notes one thing that a device asks for, or that it does no more.
func (d *sensorDesk) asked(probe, id, text string) {
	all := d.asks[probe]
	if text == "" && all[id] == "" || all[id] == text || text != "" && all[id] == "" && len(all) >= asksKept {
		return
	}
	if all == nil {
		all = map[string]string{}
		d.asks[probe] = all
	}
	if all[id] = text; text == "" {
		delete(all, id)
	}
	d.news[probe] = true
}

// run tells what is due, until ctx ends.
func (d *sensorDesk) run(ctx context.Context) error {
	forget := d.clock.Now().Add(askedBefore)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-d.clock.After(sensorLook):
		}
		if !forget.IsZero() && !d.clock.Now().Before(forget) {
			forget = time.Time{}
			d.forgotten()
		}
		d.tell(ctx)
	}
}

// forgotten finds what devices asked for before the start and do not any more: the
// end of it was not heard.
func (d *sensorDesk) forgotten() {
	places := d.places()
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, p := range places {
		for _, t := range p.Probes {
			if t.Asks != "" && len(d.asks[t.Probe.Probe]) == 0 {
				d.news[t.Probe.Probe] = true
			}
		}
	}
}

// A sensorNews is a word that is due.
type sensorNews struct {
	process.SensorWord
	at time.Time
}

func (d *sensorDesk) tell(ctx context.Context) {
	for _, n := range d.due() {
		if err := d.say(ctx, n.SensorWord, n.at); err != nil && ctx.Err() == nil {
			d.log.Error("the word of a sensor is not stored", "probe", n.Probe, "words", n.Words+n.Asks, "err", err)
		}
	}
}

// due takes what is to be told now.
func (d *sensorDesk) due() (out []sensorNews) {
	now := d.clock.Now()
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, probe := range slices.Sorted(maps.Keys(d.gone)) {
		s := d.gone[probe]
		if now.Sub(s.At) >= d.interval[probe]+goodbyeWait {
			out = append(out, sensorNews{s.SensorWord, s.At})
			delete(d.gone, probe)
		}
	}
	for _, probe := range slices.Sorted(maps.Keys(d.news)) {
		var texts []string
		for _, id := range slices.Sorted(maps.Keys(d.asks[probe])) {
			texts = append(texts, d.asks[probe][id])
		}
		out = append(out, sensorNews{process.SensorWord{Probe: probe, Asks: strings.Join(texts, "; ")}, now})
	}
	clear(d.news)
	return out
}

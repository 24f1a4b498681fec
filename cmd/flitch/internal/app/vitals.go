package app

import (
	"cmp"
	"context"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/ingest"
	"flitch/process"
)

const (
	// vitalHour is when sensors' batteries and signals are looked at, by the clock on
	// the wall: nobody changes one at night (proposal).
	vitalHour = 9

	// vitalEvery thins what is kept of a day: one value an hour is enough for its middle.
	vitalEvery = time.Hour
	vitalKept  = 48 // most of one kind
)

// A vitalKey is one of the things a sensor tells of itself.
type vitalKey struct{ probe, kind string }

// vitalDesk collects what sensors tell of themselves, and says the middle of it once a
// day. What it has collected is lost at a restart: the next day has its own.
type vitalDesk struct {
	clock Clock
	zone  *time.Location
	asked map[vitalKey]config.Vital
	say   func(context.Context, process.Vital) error
	log   *slog.Logger

	mu     sync.Mutex
	latest map[vitalKey]time.Time
	heard  map[vitalKey][]float64
}

func (a *App) buildVitals() *vitalDesk {
	d := &vitalDesk{clock: a.clock, zone: a.cfg.Site.Zone, asked: map[vitalKey]config.Vital{}, log: a.log,
		say:    func(ctx context.Context, v process.Vital) error { return a.engine.Vital(ctx, v) },
		latest: map[vitalKey]time.Time{}, heard: map[vitalKey][]float64{}}
	for _, p := range a.cfg.Probes {
		for kind, v := range map[string]config.Vital{process.VitalBattery: p.Battery, process.VitalSignal: p.Signal} {
			if v.Pointer != "" {
				d.asked[vitalKey{p.Name, kind}] = v
			}
		}
	}
	return d
}

// vitalsAt are the places in the payload of a probe where it tells of itself.
func vitalsAt(p config.Probe) (out []ingest.VitalAt) {
	if p.Battery.Pointer != "" {
		out = append(out, ingest.VitalAt{Kind: process.VitalBattery, Pointer: p.Battery.Pointer})
	}
	if p.Signal.Pointer != "" {
		out = append(out, ingest.VitalAt{Kind: process.VitalSignal, Pointer: p.Signal.Pointer})
	}
	return out
}

// hear takes a value, at most one an hour of each kind.
func (d *vitalDesk) hear(v ingest.Vital) {
	key, now := vitalKey{v.Probe, v.Kind}, d.clock.Now()
	if !believable(v.Value, d.asked[key].Unit) {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if at, known := d.latest[key]; known && now.Sub(at) < vitalEvery && !now.Before(at) || len(d.heard[key]) >= vitalKept {
		return
	}
	d.latest[key] = now
	d.heard[key] = append(d.heard[key], v.Value)
}

// believable keeps out codes for "no value".
func believable(value float64, unit string) bool {
	switch unit {
	case "%":
		return value >= 0 && value <= 100
	case "V":
		return value > 0 && value <= 100
	}
	return value >= -150 && value < 0 // dBm
}

// run looks each day at the hour, until ctx ends.
func (d *vitalDesk) run(ctx context.Context) error {
	for next := d.hourAfter(d.clock.Now()); ; {
		select {
		case <-ctx.Done():
			return nil
		case <-d.clock.After(min(next.Sub(d.clock.Now()), testLook)):
		}
		now := d.clock.Now()
		if now.Before(next) {
			continue
		}
		d.tell(ctx)
		next = d.hourAfter(now)
	}
}

// tell says the middle of what was heard of each kind, and begins anew.
func (d *vitalDesk) tell(ctx context.Context) {
	d.mu.Lock()
	heard := d.heard
	d.heard, d.latest = map[vitalKey][]float64{}, map[vitalKey]time.Time{}
	d.mu.Unlock()
	keys := slices.SortedFunc(maps.Keys(heard), func(a, b vitalKey) int {
		return cmp.Or(cmp.Compare(a.probe, b.probe), cmp.Compare(a.kind, b.kind))
	})
	for _, key := range keys {
		asked := d.asked[key]
		v := process.Vital{Probe: key.probe, Kind: key.kind, Value: middle(heard[key]), Low: asked.Low, Unit: asked.Unit}
		if err := d.say(ctx, v); err != nil {
			d.log.Error("battery or signal not stored, told again tomorrow", "probe", key.probe, "err", err)
		}
	}
}

// middle is the median; of two in the middle the lower one.
func middle(values []float64) float64 {
	slices.Sort(values)
	return values[(len(values)-1)/2]
}

// hourAfter is the first vitalHour after a time.
func (d *vitalDesk) hourAfter(now time.Time) time.Time {
	year, month, day := now.In(d.zone).Date()
	for ahead := 0; ; ahead++ {
		if at := time.Date(year, month, day+ahead, vitalHour, 0, 0, 0, d.zone); at.After(now) {
			return at
		}
	}
}

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
	"flitch/store"
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

// A vitalShelf keeps what was collected over a restart.
type vitalShelf interface {
	KeepVital(store.Vital) error
	Vitals() ([]store.Vital, error)
	ForgetVitals(probe, kind string, upTo time.Time) error
}

// vitalDesk collects what sensors tell of themselves, and says the middle of it once a
// day.
type vitalDesk struct {
	clock Clock
	zone  *time.Location
	asked map[vitalKey]config.Vital
	say   func(context.Context, process.Vital) error
	kept  vitalShelf
	log   *slog.Logger

	mu    sync.Mutex
	heard map[vitalKey][]store.Vital // in order
}

func (a *App) buildVitals() *vitalDesk {
	d := &vitalDesk{clock: a.clock, zone: a.cfg.Site.Zone, asked: map[vitalKey]config.Vital{}, kept: a.db, log: a.log,
		say:   func(ctx context.Context, v process.Vital) error { return a.engine.Vital(ctx, v) },
		heard: map[vitalKey][]store.Vital{}}
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
	if v := p.Battery; v.Pointer != "" {
		out = append(out, ingest.VitalAt{Kind: process.VitalBattery, Pointer: v.Pointer, Unit: v.Unit, Loose: v.Loose})
	}
	if v := p.Signal; v.Pointer != "" {
		out = append(out, ingest.VitalAt{Kind: process.VitalSignal, Pointer: v.Pointer, Unit: v.Unit, Loose: v.Loose})
	}
	return out
}

// hear takes a value, at most one an hour of each kind.
func (d *vitalDesk) hear(v ingest.Vital) {
	if _, ok := d.asked[vitalKey{v.Probe, v.Kind}]; !ok {
		return // of a device of several probes one speaks
	}
	key, now := vitalKey{v.Probe, v.Kind}, d.clock.Now()
	if !believable(v.Value, d.asked[key].Unit) {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	heard := d.heard[key]
	if n := len(heard); n >= vitalKept || n > 0 && now.Sub(heard[n-1].At) < vitalEvery && !now.Before(heard[n-1].At) {
		return
	}
	one := store.Vital{Probe: v.Probe, Kind: v.Kind, At: now, Value: v.Value}
	d.heard[key] = append(heard, one)
	if err := d.kept.KeepVital(one); err != nil {
		d.log.Warn("battery or signal not kept over a restart", "probe", v.Probe, "err", err)
	}
}

// recall takes up what was collected before a restart, and reports whether its hour
// passed meanwhile.
func (d *vitalDesk) recall() (late bool) {
	kept, err := d.kept.Vitals()
	if err != nil {
		d.log.Error("batteries and signals of before the start not read", "err", err)
		return false
	}
	hour := d.hourBefore(d.clock.Now())
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, v := range kept {
		key := vitalKey{v.Probe, v.Kind}
		if _, asked := d.asked[key]; !asked {
			continue
		}
		d.heard[key] = append(d.heard[key], v)
		late = late || v.At.Before(hour) && !d.clock.Now().Before(hour)
	}
	return late
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
	if d.recall() {
		d.tell(ctx)
	}
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

// tell says the middle of what was heard of each kind, and begins anew. What could not
// be said stays, for tomorrow.
func (d *vitalDesk) tell(ctx context.Context) {
	d.mu.Lock()
	heard := maps.Clone(d.heard)
	d.mu.Unlock()
	keys := slices.SortedFunc(maps.Keys(heard), func(a, b vitalKey) int {
		return cmp.Or(cmp.Compare(a.probe, b.probe), cmp.Compare(a.kind, b.kind))
	})
	for _, key := range keys {
		asked := d.asked[key]
		v := process.Vital{Probe: key.probe, Kind: key.kind, Value: middle(heard[key]), Low: asked.Low, Unit: asked.Unit}
		err := d.say(ctx, v)
		if err == nil {
			err = d.forget(key, heard[key])
		}
		if err != nil {
			d.log.Error("battery or signal not stored, told again tomorrow", "probe", key.probe, "err", err)
		}
	}
}

// forget drops what was said.
func (d *vitalDesk) forget(key vitalKey, said []store.Vital) error {
	d.mu.Lock()
	d.heard[key] = d.heard[key][len(said):]
	if len(d.heard[key]) == 0 {
		delete(d.heard, key)
	}
	d.mu.Unlock()
	latest := said[0].At
	for _, v := range said { // the clock may have been set back in between
		if v.At.After(latest) {
			latest = v.At
		}
	}
	return d.kept.ForgetVitals(key.probe, key.kind, latest)
}

// middle is the median; of two in the middle the lower one.
func middle(heard []store.Vital) float64 {
	values := make([]float64, len(heard))
	for i, v := range heard {
		values[i] = v.Value
	}
	slices.Sort(values)
	return values[(len(values)-1)/2]
}

// hourBefore is the newest vitalHour that is not after a time. A day may have 23 hours.
func (d *vitalDesk) hourBefore(now time.Time) time.Time {
	year, month, day := now.In(d.zone).Date()
	for back := 0; ; back++ {
		if at := time.Date(year, month, day-back, vitalHour, 0, 0, 0, d.zone); !at.After(now) {
			return at
		}
	}
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

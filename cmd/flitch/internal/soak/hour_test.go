package soak

import (
	"context"
	"os"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
)

// lasts is how long a real run takes: what FLITCH_SOAK says, "1h", else the usual.
func lasts(t *testing.T, usual time.Duration) time.Duration {
	t.Helper()
	text := os.Getenv("FLITCH_SOAK")
	if text == "" {
		return usual
	}
	d, err := time.ParseDuration(text)
	if err != nil || d < 10*time.Second {
		t.Fatalf("FLITCH_SOAK=%q: write how long it shall run, 10s or more: 10m, 1h", text)
	}
	return d
}

// run puts everything a shop does on a daemon for a while, and measures it.
func run(t *testing.T, d *daemon, p pace, y *tally, more ...func(context.Context)) course {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), p.lasts)
	defer stop()
	var all sync.WaitGroup
	for _, s := range sensors() {
		all.Go(func() { s.publish(ctx, d.broker, p, y) })
	}
	var batch atomic.Pointer[string]
	all.Go(func() { d.make(ctx, p, &batch, y) })
	all.Go(func() { d.watch(ctx, &batch, y) })
	for i := range 3 {
		all.Go(func() { d.follow(ctx, time.Duration(2+3*i)*time.Second, y) })
	}
	for _, m := range more {
		all.Go(func() { m(ctx) })
	}
	measured := course{}
	began := time.Now()
	for tick := time.NewTicker(p.look); ctx.Err() == nil; {
		if err := measured.look(d, time.Since(began)); err != nil {
			t.Error(err)
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			tick.Stop()
		}
	}
	all.Wait()
	return measured
}

// house starts the shop with a phone.
func house(t *testing.T, y *tally) *daemon {
	t.Helper()
	folder := t.TempDir()
	phone := newPhone(y)
	t.Cleanup(phone.Close)
	prepare(t, folder, houseText(mqtttest.FreeAddress(t), mqtttest.FreeAddress(t), phone.URL, "1s"))
	return start(t, folder)
}

// The real binary for a real hour (FLITCH_SOAK=1h; half a minute with go test): memory,
// handles, goroutines, threads and lag are flat, the database grows by the reading, and
// nothing that was acknowledged is missing.
func TestTheRealBinaryStaysFlat(t *testing.T) {
	t.Parallel()
	var y tally
	d := house(t, &y)
	p := paceOf(lasts(t, 30*time.Second))
	measured := run(t, d, p, &y)
	y.judge(t, d)
	measured.report(t, "hour", p.lasts, true)
	line("hour_injected", y.injected(), "readings+faults", 0)
	t.Logf("%d readings acknowledged, %d payloads of rubbish, %d reconnects, %d streams dropped, %d requests, %d batches, %d messages, %d answers",
		y.acked.Load(), y.rubbish.Load(), y.reconnects.Load(), y.streams.Load(), y.asked.Load(), y.batches.Load(), y.rings.Load(), y.answers.Load())
}

// judge holds what was done against what the daemon counted: a run in which a kind of
// disturbance did not happen shows nothing.
func (y *tally) judge(t *testing.T, d *daemon) {
	t.Helper()
	for name, n := range map[string]int64{"readings": y.acked.Load(), "rubbish": y.rubbish.Load(), "reconnects": y.reconnects.Load(), "dropped streams": y.streams.Load(),
		"requests": y.asked.Load(), "batches": y.batches.Load(), "messages": y.rings.Load(), "answers": y.answers.Load()} {
		if n == 0 {
			t.Errorf("there were no %s", name)
		}
	}
	if n := y.failed.Load(); n > 0 {
		t.Errorf("%d requests failed, the last: %v", n, y.why.Load())
	}
	var figures map[string]float64
	evaluated := until(t.Context(), time.Minute, func() bool {
		var err error
		figures, err = d.figures()
		return err == nil && figures["flitch_inputs_evaluated_total"] >= figures["flitch_intake_stored_total"]
	})
	if stored := int64(figures["flitch_intake_stored_total"]); stored < y.acked.Load() || !evaluated {
		t.Errorf("%d readings were acknowledged, %d stored, %.0f inputs evaluated", y.acked.Load(), stored, figures["flitch_inputs_evaluated_total"])
	}
	if figures["flitch_intake_rejected_total"] == 0 {
		t.Error("no rubbish was refused")
	}
}

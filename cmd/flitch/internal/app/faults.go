package app

import (
	"context"
	"slices"
	"strings"
	"syscall"
	"time"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/health"
	"flitch/process/engine"
	"flitch/store"
)

// faultChanged hands the news on. It does not wait.
func (a *App) faultChanged(part, text string) {
	a.log.Warn("fault", "part", part, "text", text, "over", text == "")
	if text != "" && (part == engine.FaultDisk || part == engine.FaultDamage) {
		a.unstored(a.diskNews(part, text))
	}
	if part == engine.FaultDisk {
		select {
		case a.diskTurned <- struct{}{}:
		default:
		}
	}
	a.tidings.turned(part, a.faults.Has)
	a.events.Changed()
}

// report gives each fault to the engine, in order. One that cannot be stored waits, and so
// do those behind it; a fault of the disk that is over by then rings nobody: the line of its gap
// tells of it.
func (a *App) report(ctx context.Context) error {
	for {
		r, ok := a.tidings.next(ctx)
		if !ok {
			return nil
		}
		a.insist(ctx, r)
	}
}

// reportAgain is how long a report waits that could not be stored: proposal.
const reportAgain = 2 * time.Second

func (a *App) insist(ctx context.Context, r report) {
	for tries := 0; tries == 0 || r.part != engine.FaultDisk || !r.failed || a.faults.Has(r.part); tries++ {
		err := a.reported(ctx, r)
		if err == nil || ctx.Err() != nil {
			return
		}
		a.log.Error("fault not stored", "part", r.part, "err", err)
		if store.FaultOf(err) == store.Other && !store.Held(err) {
			return // it would never be stored
		}
		select {
		case <-ctx.Done():
			return
		case <-a.clock.After(reportAgain):
		}
	}
}

func (a *App) reported(ctx context.Context, r report) error {
	if r.gap != "" {
		return a.engine.ReportGap(ctx, r.from, r.to, r.gap)
	}
	return a.engine.Report(ctx, r.part, r.failed)
}

// phoneFailed is told by the outbox of a message that did not get through, or not yet.
func (a *App) phoneFailed(f outbox.Failure) {
	a.faults.Set(engine.FaultPhone+f.Message.Channel, f.Error)
}

// divert stores the end of an attempt that did not get through, and in the same transaction
// the message that goes on through the next backup channel: a kill leaves both or none, and
// after none the attempt is made again.
func (a *App) divert(s alerts.Settlement, f outbox.Failure) error {
	err := a.db.Update(func(tx *store.Tx) error {
		if err := tx.Settle(s); err != nil {
			return err
		}
		return a.passOn(tx, f)
	})
	if err == nil {
		a.outbox.Wake()
	}
	return err
}

// passOn stores what replaces a message that failed, once: of three phones of a channel that
// fail together one passes it on, also after a restart, and it goes no way twice.
func (a *App) passOn(tx *store.Tx, f outbox.Failure) error {
	failed := f.Message
	failed.Channel, _ = channelOf(failed.Channel)
	alike, err := tx.Alike(failed)
	if err != nil {
		return err
	}
	if slices.ContainsFunc(alike, func(other alerts.Message) bool { return other.Replaces(failed) }) {
		return nil
	}
	m, ok := policy(a.cfg).Redirect(failed, f.Error, func(channel string) bool {
		return slices.ContainsFunc(alike, func(other alerts.Message) bool {
			base, _ := channelOf(other.Channel)
			return base == channel
		})
	})
	if !ok {
		return nil
	}
	return a.enqueue(tx, m)
}

// phoneAnswered ends the fault of a channel that delivers again.
func (a *App) phoneAnswered(channel string, s alerts.Settlement) {
	if s.Outcome == alerts.Delivered {
		a.recovered(engine.FaultPhone + channel)
	}
}

// recovered ends the fault of a part. The first time since the start that is
// reported even if nothing is known of it here: the engine keeps faults, and one
// of before the start would stand, and ring, for ever.
func (a *App) recovered(part string) {
	a.faults.Clear(part)
	if _, told := a.recoveries.LoadOrStore(part, true); !told {
		a.tidings.turned(part, a.faults.Has)
	}
}

// health lists what is wrong, for /healthz.
func (a *App) health(context.Context) []api.Fault {
	out := []api.Fault{}
	for _, f := range a.faults.List() {
		text := advice(f)
		if f.Part == engine.FaultDamage {
			text = f.Text + "; " + a.restoreAdvice()
		}
		out = append(out, api.Fault{Name: f.Part, Text: text})
	}
	if text := a.heartbeat.wrong(); text != "" {
		out = append(out, api.Fault{Name: "heartbeat", Text: text})
	}
	if a.signIn != nil {
		if err := a.signIn.Readable(); err != nil {
			out = append(out, api.Fault{Name: "sign-in", Text: err.Error()})
		}
	}
	if text := a.clockFault(); text != "" {
		out = append(out, api.Fault{Name: engine.FaultClock, Text: text})
	}
	return out
}

func advice(f health.Fault) string {
	switch {
	case f.Part == engine.FaultDisk:
		return f.Text + "; free some space or change the disk"
	case f.Part == engine.FaultSlow:
		return f.Text + "; make a backup and change the disk or card"
	case f.Part == engine.FaultBackup && strings.Contains(f.Text, syscall.EROFS.Error()):
		return f.Text + "; under systemd: systemctl edit flitch, and there [Service] with ReadWritePaths= and the folder"
	case f.Part == engine.FaultBackup:
		return f.Text + "; try it with: flitch backup"
	case f.Part == engine.FaultRecord:
		return f.Text + "; try it with: flitch verify"
	case f.Part == engine.FaultFleet:
		return f.Text // says itself what to do
	case strings.HasPrefix(f.Part, engine.FaultTwins):
		return f.Text + "; give each device a client id of its own"
	case f.Part == engine.FaultBroker:
		return f.Text + "; look at the broker and the network"
	case strings.HasPrefix(f.Part, engine.FaultPhone) && strings.Contains(f.Part, "/"):
		return f.Text + "; press Ring this phone on it again, or take it off the list on the page"
	case strings.HasPrefix(f.Part, engine.FaultPhone):
		return f.Text + "; try it with: flitch ring --channel " + strings.TrimPrefix(f.Part, engine.FaultPhone)
	}
	return f.Text
}

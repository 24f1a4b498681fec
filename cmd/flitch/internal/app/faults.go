package app

import (
	"context"
	"slices"
	"strings"
	"sync"

	"flitch/alerts"
	"flitch/alerts/outbox"
	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/health"
	"flitch/process/engine"
	"flitch/store"
)

// A report is a fault on its way to the engine, which stores it like any input.
type report struct {
	part   string
	failed bool
}

// faultChanged hands the news on. It does not wait: a queue that is full is full
// of the same news, and the page shows the fault all the same.
func (a *App) faultChanged(part, text string) {
	a.log.Warn("fault", "part", part, "text", text, "over", text == "")
	if part == engine.FaultDisk && text != "" {
		select {
		case a.urgent <- text:
		default: // the same news is on its way
		}
	}
	select {
	case a.reports <- report{part, text != ""}:
	default:
		a.log.Error("fault not reported: too many at once", "part", part)
	}
	a.events.Changed()
}

// report gives each fault to the engine, in order.
func (a *App) report(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case r := <-a.reports:
			if err := a.engine.Report(ctx, r.part, r.failed); err != nil && ctx.Err() == nil {
				a.log.Error("fault not stored", "part", r.part, "err", err)
			}
		}
	}
}

// lane tells of a disk that does not take anything, past the database: the
// message cannot be stored first, so it is sent once, at once, on every channel.
func (a *App) lane(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return nil
		case text := <-a.urgent:
			a.tellUnstored(ctx, text)
		}
	}
}

func (a *App) tellUnstored(ctx context.Context, text string) {
	var sends sync.WaitGroup
	for _, c := range policy(a.cfg).Channels {
		for _, lane := range a.lanes(c.Name) {
			m := alerts.Message{Kind: alerts.Raised, Entry: "B10", Level: alerts.Ring, Channel: lane, Due: a.clock.Now(),
				Subject: "RING Readings cannot be stored", Body: text + "\nDo first: free some space or change the disk; write temperatures down by hand."}
			sends.Go(func() {
				if err := a.outbox.SendUnstored(ctx, m); err != nil {
					a.log.Error("news of the disk not delivered", "channel", m.Channel, "err", err)
				}
			})
		}
	}
	sends.Wait()
}

// diskFault is told by the intake when the store starts or ceases to fail.
func (a *App) diskFault(err error) {
	if err != nil {
		a.faults.Set(engine.FaultDisk, err.Error())
		return
	}
	a.faults.Clear(engine.FaultDisk)
}

// phoneFailed is told by the outbox of a message that did not get through, or not
// yet. It goes on through the next backup channel, once.
func (a *App) phoneFailed(f outbox.Failure) {
	a.faults.Set(engine.FaultPhone+f.Message.Channel, f.Error)
	failed := f.Message
	failed.Channel, _ = channelOf(failed.Channel)
	m, ok := policy(a.cfg).Redirect(failed, f.Error, a.had(f.Message))
	if _, before := a.redirected.LoadOrStore(f.Message.ID, true); before || !ok {
		return
	}
	err := a.db.Update(func(tx *store.Tx) error { return a.enqueue(tx, m) })
	if err != nil {
		a.log.Error("message not sent on through another channel", "message", f.Message.ID, "err", err)
		a.redirected.Delete(f.Message.ID)
		return
	}
	a.outbox.Wake()
}

// had reports the channels that have, or had, the same word of an alarm: of three phones
// that fail together one passes it on, and it goes no way twice.
func (a *App) had(m alerts.Message) func(channel string) bool {
	sent, err := a.db.MessagesOf(m.Alarm)
	if err != nil || m.Alarm == 0 {
		return func(string) bool { return false } // rather twice than not at all
	}
	return func(channel string) bool {
		return slices.ContainsFunc(sent, func(other store.MessageRecord) bool {
			base, _ := channelOf(other.Channel)
			return base == channel && other.Kind == m.Kind && other.Due.Equal(m.Due)
		})
	}
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
	if _, told := a.recoveries.LoadOrStore(part, true); told {
		return
	}
	select {
	case a.reports <- report{part, false}:
	default:
		a.recoveries.Delete(part) // the next time
	}
}

// health lists what is wrong, for /healthz.
func (a *App) health(context.Context) []api.Fault {
	out := []api.Fault{}
	for _, f := range a.faults.List() {
		out = append(out, api.Fault{Name: f.Part, Text: advice(f)})
	}
	if text := a.heartbeat.wrong(); text != "" {
		out = append(out, api.Fault{Name: "heartbeat", Text: text})
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
	case f.Part == engine.FaultBackup:
		return f.Text + "; try it with: flitch backup"
	case f.Part == engine.FaultRecord:
		return f.Text + "; try it with: flitch verify"
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

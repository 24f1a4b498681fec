package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"flitch/alerts"
	"flitch/ingest"
	"flitch/process"
	"flitch/process/engine"
	"flitch/store"
)

// Bounds of what is sent past the database: proposals.
const (
	unstoredKept  = 64               // messages that wait to be sent
	unstoredTries = 4                // of each
	toldAgain     = 30 * time.Minute // as B10 of the catalogue
	blinkOfDisk   = 5 * time.Second  // a fault that lost nothing and was shorter leaves no line in the journal
)

// diskFault is told by the intake and the engine when the store fails, or does not.
func (a *App) diskFault(err error) {
	if err != nil {
		a.faults.Set(engine.FaultDisk, diskWords(err))
		if store.FaultOf(err) == store.Full {
			a.ballast.drop()
		}
		return
	}
	if a.unwritten.Load() || a.intake != nil && a.intake.Unstored() > 0 {
		return // one of the two still waits
	}
	err = a.ballast.keep()
	a.noRoom.Store(err != nil)
	if err != nil {
		a.faults.Set(engine.FaultDisk, "what is needed is stored, but no room is left: "+diskWords(err))
		return
	}
	a.faults.Clear(engine.FaultDisk)
}

// diskWords say what the disk does in plain words, then what was said.
func diskWords(err error) string {
	f := store.FaultOf(err)
	if f == store.Other {
		return err.Error()
	}
	return f.String() + ": " + err.Error()
}

// diskTrouble is what of the disk is behind an error, and what to do about it; empty: nothing.
func diskTrouble(err error) (why, do string) {
	if errors.Is(err, fs.ErrPermission) {
		return "flitch may not write there", "give the file and its folder to whoever runs flitch"
	}
	switch store.FaultOf(err) {
	case store.Full:
		return "the disk is full", "free some space on the disk of flitch"
	case store.ReadOnly:
		return "the disk can only be read", "look at the disk of flitch"
	case store.IO:
		return "the disk does not answer as it should", "look at the disk of flitch"
	case store.Corrupt:
		return "the database is damaged", "put a copy back with flitch restore"
	}
	return "", ""
}

// notEntered tells the person whose command the disk could not take why, and what to do
// meanwhile. All other errors stay as they are.
func (a *App) notEntered(err error) error {
	why, do := diskTrouble(err)
	if why == "" || !errors.Is(err, engine.ErrNotStored) {
		return err
	}
	a.log.Error("command not stored", "err", err)
	return &process.Refusal{What: why + ": this was not entered", Hint: do + "; until then write it down on paper with the time, and type it with that time when the disk is well", NotNow: true}
}

// notChanged is notEntered for what a person sets: a phone or a probe.
func (a *App) notChanged(err error) error {
	why, do := diskTrouble(err)
	if why == "" {
		return err
	}
	a.log.Error("change not stored", "err", err)
	return &process.Refusal{What: why + ": nothing was changed", Hint: do + ", then do it again", NotNow: true}
}

// damaged is told of a part of the database that could not be read. That is so until
// somebody puts a copy back.
func (a *App) damaged(err error) { a.faults.Set(engine.FaultDamage, diskWords(err)) }

// gapOver is told by the intake what became of the readings of a time in which nothing
// could be stored.
func (a *App) gapOver(g ingest.Gap) {
	if len(g.Lost) > 0 {
		a.tooMuch.Store(true)
	}
	a.diskFault(nil)
	words := gapWords(g)
	a.log.Warn("gap", "text", words)
	if len(g.Lost) == 0 && g.To.Sub(g.From) < blinkOfDisk {
		return
	}
	if !a.tidings.pass(report{part: engine.FaultDisk, gap: words, from: g.From, to: g.To}) {
		a.log.Error("gap not reported: too many at once", "text", words)
	}
}

func gapWords(g ingest.Gap) string {
	lost := 0
	var of []string
	for _, probe := range slices.Sorted(maps.Keys(g.Lost)) {
		lost += g.Lost[probe]
		of = append(of, fmt.Sprintf("%s %d", probe, g.Lost[probe]))
	}
	words := fmt.Sprintf("nothing could be stored from %s to %s: %d readings waited in memory and were stored then, %d were heard and could not be kept",
		g.From.Format(time.RFC3339), g.To.Format(time.RFC3339), g.Held, lost)
	if lost > 0 {
		words += " (" + strings.Join(of, ", ") + "; fewer if they were sent again)"
	}
	return words
}

// unstored takes a message that cannot be stored. It never blocks.
func (a *App) unstored(m alerts.Message) {
	select {
	case a.urgent <- m:
	default:
		a.log.Error("message not sent past the database: too many at once", "subject", m.Subject)
	}
}

// diskNews is the news of a disk or a database that fails, for every channel.
func (a *App) diskNews(part, text string) alerts.Message {
	m := alerts.Message{Kind: alerts.Raised, Entry: "B10", Level: alerts.Ring, Due: a.clock.Now(),
		Subject: "RING Readings cannot be stored", Body: text + "\nDo first: free some space or change the disk; write temperatures down by hand."}
	if part == engine.FaultDamage {
		m.Entry, m.Subject, m.Body = "B10d", "RING Database damaged", text+"\nDo first: "+a.restoreAdvice()
	}
	return m
}

// lane sends what cannot be stored first, past the database, at once; news of the disk
// again and again while they hold.
func (a *App) lane(ctx context.Context) error {
	var sends sync.WaitGroup
	defer sends.Wait()
	again := a.clock.After(toldAgain)
	for {
		select {
		case <-ctx.Done():
			return nil
		case m := <-a.urgent:
			sends.Go(func() { a.sendUnstored(ctx, ctx, m) })
		case <-again:
			again = a.clock.After(toldAgain)
			for _, f := range a.faults.List() {
				if f.Part == engine.FaultDisk {
					a.unstored(a.diskNews(f.Part, f.Text))
				}
			}
		}
	}
}

// lanesOf are the ways of a channel; of none, those of all.
func (a *App) lanesOf(channel string) (lanes []string) {
	for _, c := range policy(a.cfg).Channels {
		if channel == "" || c.Name == channel {
			lanes = append(lanes, a.lanes(c.Name)...)
		}
	}
	return lanes
}

// sendUnstored sends a message on each way of its channel; of none, of all. It returns how
// many took it. After the end of tries none is begun; the end of ctx gives up one under way, too.
func (a *App) sendUnstored(ctx, tries context.Context, m alerts.Message) int {
	var sends sync.WaitGroup
	var took atomic.Int64
	for _, lane := range a.lanesOf(m.Channel) {
		one := m
		one.Channel = lane
		sends.Go(func() {
			if a.sendPast(ctx, tries, one) {
				took.Add(1)
			}
		})
	}
	sends.Wait()
	return int(took.Load())
}

// sendPast tries a few times: nothing else remembers the message.
func (a *App) sendPast(ctx, tries context.Context, m alerts.Message) bool {
	for try := range unstoredTries {
		err := a.outbox.SendUnstored(ctx, m)
		if err == nil || ctx.Err() != nil {
			return err == nil
		}
		a.log.Error("message past the database not delivered", "channel", m.Channel, "subject", m.Subject, "err", err)
		if refusal, ok := errors.AsType[*alerts.SendError](err); ok && !refusal.Retry {
			return false
		}
		select {
		case <-tries.Done():
			return false
		case <-a.clock.After(time.Duration(1+try*try) * 10 * time.Second):
		}
	}
	return false
}

// restoreAdvice is the command that puts the newest copy back.
func (a *App) restoreAdvice() string { return RestoreAdvice(a.cfg) }

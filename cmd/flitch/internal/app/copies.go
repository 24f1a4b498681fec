package app

import (
	"context"
	"time"

	"flitch/ingest"
	"flitch/ingest/mqtt"
	"flitch/process/engine"
)

// While nothing can be stored nothing is acknowledged, and an outside broker sends no more once
// that much is under way (mosquitto: 20 messages, unless it is told otherwise). What comes after
// is safe there, and unseen here. So while the disk fails the same topics are heard a second
// time, without a session: for evaluation in memory alone.

// copies listens while the disk fails, until ctx ends.
func (a *App) copies(ctx context.Context) error {
	second, err := ingest.NewCopies(mappings(a.cfg.Probes), a.clock, a.engine.Heard)
	if err != nil {
		return err
	}
	var ear *mqtt.Overhearer
	hangUp := func() {
		if ear != nil {
			ear.Close()
			ear = nil
		}
	}
	defer hangUp()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-a.diskTurned:
		}
		switch fails := a.faults.Has(engine.FaultDisk); {
		case !fails:
			hangUp()
			a.askAgain(ctx)
		case ear == nil:
			if ear, err = a.secondEar(second); err != nil {
				a.log.Error("readings are evaluated only as far as the broker sends them without an acknowledgement", "err", err)
			}
		}
	}
}

// secondEar subscribes to what the intake reads. What comes counts only while something waits
// to be stored: at any other time the intake's own readings are evaluated.
func (a *App) secondEar(second *ingest.Copies) (*mqtt.Overhearer, error) {
	conf := a.outsideBroker()
	conf.ClientID += "-copies"
	return mqtt.Overhear(conf, a.intake.Topics(), func(topic string, payload []byte, retained bool) {
		if a.intake.Unstored() > 0 {
			second.Hear(ingest.Message{Topic: topic, Payload: payload, Retained: retained})
		}
	})
}

// acknowledgedBy is when what was held and is stored is acknowledged too: proposal.
const acknowledgedBy = 2 * time.Second

// askAgain has the broker send what there was no room for in memory. It has that still, and sends
// it on a new connection only.
func (a *App) askAgain(ctx context.Context) {
	if !a.tooMuch.Swap(false) {
		return
	}
	select {
	case <-ctx.Done():
	case <-Wall{}.After(acknowledgedBy):
		a.subscriber.Again()
	}
}

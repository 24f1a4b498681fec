package app

import (
	"time"

	"flitch/alerts"
	"flitch/alerts/outbox"
)

// strandedFor is how late a message may be that still goes another way when its channel was taken out
// of the configuration: after as long a channel gives one up. Proposal.
const strandedFor = 24 * time.Hour

// endStranded ends what waits for a channel that is no longer in the configuration: it failed, and
// goes on through another. It would wait for ever, and hold back the proof that flitch works.
func (a *App) endStranded() {
	waiting, err := a.db.Stranded(a.outbox.Names())
	for i := 0; err == nil && i < len(waiting); i++ {
		err = a.endOne(waiting[i])
	}
	if err != nil {
		a.log.Error("what waits for a channel that is gone waits on", "err", err)
	}
}

func (a *App) endOne(m alerts.Message) error {
	const why = "the channel is no longer in the configuration"
	now := a.clock.Now()
	a.log.Warn("message did not get through", "channel", m.Channel, "message", m.ID, "error", why)
	s := alerts.Settlement{Message: m.ID, Outcome: alerts.Failed, At: now, Error: why}
	if now.Sub(m.Due) >= strandedFor {
		return a.db.Settle(s)
	}
	return a.divert(s, outbox.Failure{Message: m, Final: true, Error: why})
}

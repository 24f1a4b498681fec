package app

import (
	"flitch/ingest/mqtt"
	"flitch/process/engine"
)

// What an outside broker lost, as the journal calls it.
const (
	brokerForgot  = "broker, which forgot us"
	brokerDropped = "broker, which dropped messages"
)

// queueAdvice is what to do about a broker that loses what it acknowledged.
const queueAdvice = "try it with flitch check --outage 8h; for mosquitto see deploy/mosquitto-flitch.conf"

func (a *App) brokerEvents() mqtt.Events {
	return mqtt.Events{
		Up: a.brokerUp,
		Down: func(err error) {
			text := "out of reach"
			if err != nil {
				text = err.Error()
			}
			a.faults.Set(engine.FaultBroker, text)
		},
		SessionLost: func() { a.lostAtBroker(brokerForgot) },
		Dropped:     func(n int64) { a.lostAtBroker(brokerDropped, "messages", n, "note", "of whomever") },
	}
}

// brokerUp is told of each connection. A broker that has no session of us at the first one
// of this run forgot us, unless we were never there.
func (a *App) brokerUp(resumed bool) {
	for _, part := range []string{engine.FaultBroker, brokerForgot, brokerDropped} { // a kill may have come between the two words of a loss
		a.recovered(part)
	}
	a.intake.AskForBirths()
	if !a.brokerSeen.Swap(true) && !resumed && a.heardOnce {
		a.lostAtBroker(brokerForgot)
	}
}

// lostAtBroker logs that what was published while we were away is missing, and leaves a
// line in the journal: it came and is over. Nobody is rung; what is missing is a gap, and
// the clocks take it for one.
func (a *App) lostAtBroker(what string, more ...any) {
	a.log.Warn(what+": readings may be missing", append(more, "advice", queueAdvice)...)
	if !a.tidings.pass(report{part: what, failed: true}, report{part: what}) {
		a.log.Error("loss not reported: too many at once", "part", what)
	}
}

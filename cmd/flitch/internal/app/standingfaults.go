package app

import (
	"slices"
	"strings"

	"flitch/process/engine"
)

// endStale ends the faults that the engine keeps from before this start and that nobody here
// reports any more: somebody made room while flitch was off, a channel is no longer in the
// configuration, or a stop came between the two words of something that passed. They would ring
// for ever.
func (a *App) endStale() {
	for _, part := range a.engine.Faults() {
		if !a.faults.Has(part) && a.isStale(part) {
			a.recovered(part)
		}
	}
}

// isStale reports whether a fault that is none here ends by nothing else.
func (a *App) isStale(part string) bool {
	switch part {
	case engine.FaultDisk:
		return !a.unwritten.Load() && a.intake.Unstored() == 0
	case engine.FaultBroker, brokerForgot, brokerDropped:
		return a.broker != nil // our own
	case engine.FaultBackup:
		return a.cfg.Backup.Folder == ""
	case engine.FaultFleet:
		return a.fleet == nil
	case engine.FaultEnds:
		return a.tls == nil && a.brokerTLS == nil
	case engine.FaultDamage, engine.FaultClock, engine.FaultRecord, engine.FaultSlow:
		return false // looked at after each start
	}
	if strings.HasPrefix(part, engine.FaultTwins) && a.broker != nil {
		a.twins.await(part, a.clock.Now())
		return false
	}
	if way, ok := strings.CutPrefix(part, engine.FaultPhone); ok {
		channel, _ := channelOf(way)
		_, configured := a.cfg.ChannelNamed(channel)
		return !configured || !slices.Contains(a.lanes(channel), way)
	}
	return true
}

package engine

import "flitch/alerts"

// Idle reports whether nothing runs by time that an hour more would spoil: no batch is open,
// nobody waits for anything, nothing is out of order, and no alarm is there or on its way. That
// the clock of the machine is wrong is left out: it is what the hour is for.
func (e *Engine) Idle() bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	h := e.house
	if len(h.open) > 0 || h.timed() {
		return false
	}
	for part := range h.faults {
		if part != FaultClock {
			return false
		}
	}
	for key, a := range h.board.alarms {
		if key.subject != FaultClock && a.State() != alerts.Normal {
			return false
		}
	}
	return true
}

package engine

import "flitch/alerts"

// forgetClosed drops the alarms of batches that are not open and that never rang: nothing
// reports to them any more, and each batch has some dozens. What rang stays, because people still
// say what it was worth and take back what they answered; so does what still stands or is
// on a shelf.
func (h *House) forgetClosed() {
	for key, a := range h.board.alarms {
		id := batchOf(key.subject)
		if id != "" && h.batch(id) == nil && a.Latest.Number == 0 && a.State() == alerts.Normal && a.Shelf.Until.IsZero() {
			delete(h.board.alarms, key)
		}
	}
	for subject := range h.board.own {
		if id := batchOf(subject); id != "" && h.batch(id) == nil {
			delete(h.board.own, subject)
		}
	}
}

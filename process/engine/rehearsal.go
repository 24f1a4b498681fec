package engine

import (
	"iter"

	"flitch/alerts"
	"flitch/process"
)

// Messages are those that were decided on since the last call of Happened, in order:
// who sends them asks before that.
func (h *House) Messages() []alerts.Message { return h.pending.messages }

// Recount computes an open batch anew from its whole history, in the order things
// happened: the command that started it, and what came after. Open questions of
// alarms go on as they are: late data never ring.
func (h *House) Recount(b *process.Batch, start process.Input, history iter.Seq[process.Input]) {
	fresh := process.Recount(start, history)
	fresh.Now = b.Now
	fresh.KeepAbsences(b)
	h.replace(fresh)
	h.pending.batches[b.ID] = fresh
	h.judge()
}

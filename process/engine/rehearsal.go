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
	h.recounted(b, process.Recount(start, history))
}

// recounted takes a batch that was computed anew for the one that is there.
func (h *House) recounted(b, fresh *process.Batch) {
	fresh.Now = b.Now
	fresh.KeepAbsences(b)
	h.replace(fresh)
	h.pending.batches[b.ID] = fresh
	h.judge()
}

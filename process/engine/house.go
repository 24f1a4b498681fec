package engine

import (
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A House is everything that is evaluated: places, open batches, alarms and our
// own faults, in memory. It has no clock and does no I/O: inputs go in by Take, in
// the order of the log, and what they brought about is kept until it is taken out.
// The daemon, the demo and an assessment of a logger's file all run this one.
type House struct {
	policy  alerts.Policy
	open    []*process.Batch          // sorted by ID, so that the same inputs give the same lines
	seen    map[string]*process.Batch // by ID: an open batch without what was imported; see takeImported
	closed  map[string]*process.Batch // by ID: those that were closed, or that papers came for, since the last save; see papers.go
	places  []*process.Place
	faults  map[string]time.Time // our own, since when
	paths   map[string]time.Time // those of them that are told as one, since when
	ends    time.Time            // last moment of the certificate of the page, when that is near
	clock   *process.ClockWord   // the newest of the clock of the machine; nil: none
	board   *board
	judged  map[string]verdicts
	people  peopleState
	pending *change // evaluated and not yet taken out
	found   []process.Finding
	struck  []process.Command // what just struck something out: the batches are to be computed anew
}

// NewHouse returns a house in which nothing has happened yet.
func NewHouse(places []*process.Place, catalogue []alerts.Entry, policy alerts.Policy) *House {
	return &House{policy: policy, places: places, seen: map[string]*process.Batch{}, closed: map[string]*process.Batch{}, faults: map[string]time.Time{}, paths: map[string]time.Time{}, board: newBoard(catalogue, policy.Location),
		judged: map[string]verdicts{}, pending: newChange(0)}
}

// Take evaluates one input.
func (h *House) Take(in process.Input) {
	h.one(in)
	h.pending.cursor = in.Seq
}

// Open returns the open batches. They are the house's own: read, do not change.
func (h *House) Open() []*process.Batch { return h.open }

// Happened takes out what was evaluated since the last call: the lines of the
// journal and the alarms as they stand after each of their changes, in order.
func (h *House) Happened() (journal []process.JournalLine, occurrences []alerts.Occurrence) {
	h.judge()
	done := h.pending
	h.pending = newChange(done.cursor)
	return done.journal, done.occurrences
}

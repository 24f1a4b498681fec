package app

import (
	"context"
	"log/slog"
	"sync"
	"time"
)

// Waits of the heartbeat: proposals.
const (
	firstBeatRetry = 10 * time.Second // after a beat that did not get through, doubled each time
	proofAgain     = 30 * time.Second // after a beat that was held back
)

// A heartbeat tells somebody outside that flitch works, by a beat that is sent
// only with proof of it. When the beats stay away the outside rings: that is the
// one alarm which does not need us.
type heartbeat struct {
	clock Clock
	every time.Duration
	// proof says what was done since the last beat that got through, or why there is
	// no beat to send.
	proof func(ctx context.Context) (beat, error)
	send  func(ctx context.Context, b beat) error
	log   *slog.Logger

	// Of run's goroutine alone.
	failed int   // attempts since the last beat that got through
	sent   int64 // number of the last beat that got through

	mu      sync.Mutex
	trouble string // why the last beat was not sent; empty when it was
}

// A beat is the body of one sign of life.
type beat struct {
	Site     string    `json:"site"`
	At       time.Time `json:"at"`
	Beat     int64     `json:"beat"`             // counts from the start of flitch
	Readings int64     `json:"readings"`         // committed since the last beat
	Input    int64     `json:"input"`            // newest input that is evaluated
	Batches  int       `json:"batches"`          // open
	Alarms   int       `json:"alarms"`           // standing
	Waiting  float64   `json:"waiting_s"`        // age of the oldest message that is due and not delivered
	Faults   []string  `json:"faults,omitempty"` // parts of flitch that do not work
	Version  string    `json:"version,omitempty"`
}

// run beats until ctx ends.
func (h *heartbeat) run(ctx context.Context) error {
	for {
		wait := h.turn(ctx)
		select {
		case <-ctx.Done():
			return nil
		case <-h.clock.After(wait):
		}
	}
}

// turn sends one beat, or does not, and returns how long to wait.
func (h *heartbeat) turn(ctx context.Context) time.Duration {
	b, err := h.proof(ctx)
	if err != nil {
		h.note(ctx, "no beat sent: "+err.Error())
		return min(h.every, proofAgain)
	}
	b.Beat = h.sent + 1
	if err := h.send(ctx, b); err != nil {
		h.note(ctx, "the beat did not get through: "+err.Error())
		h.failed++
		return min(h.every, firstBeatRetry<<min(h.failed-1, 16))
	}
	h.sent, h.failed = b.Beat, 0
	h.note(ctx, "")
	return h.every
}

// note keeps why there was no beat, and logs it once.
func (h *heartbeat) note(ctx context.Context, trouble string) {
	if ctx.Err() != nil {
		return // we are stopping: it says nothing of our health
	}
	h.mu.Lock()
	before := h.trouble
	h.trouble = trouble
	h.mu.Unlock()
	switch {
	case trouble == before:
	case trouble == "":
		h.log.Info("the heartbeat is back")
	default:
		h.log.Warn("heartbeat", "text", trouble)
	}
}

// wrong says why the last beat was not sent, empty when it was or there is no
// heartbeat.
func (h *heartbeat) wrong() string {
	if h == nil {
		return ""
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.trouble
}

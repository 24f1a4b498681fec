package engine

import (
	"context"
	"crypto/rand"
	"maps"
	"slices"
	"time"

	"flitch/process"
)

// The parts of flitch that can be out of order.
const (
	FaultBroker = "broker"      // the outside broker is out of reach
	FaultDisk   = "disk"        // a write failed
	FaultPhone  = "phone path " // followed by the name of the channel
)

// Report stores that a part of flitch itself failed or is back. It is an input
// like any other, so that a replay tells the same story.
func (e *Engine) Report(ctx context.Context, part string, failed bool) error {
	c := process.Command{ID: rand.Text(), Kind: process.CommandFault, By: "flitch", Text: part}
	if failed {
		c.Value = 1
	}
	return e.Do(ctx, c)
}

func (h *House) takeFault(in process.Input) {
	part, failed := in.Command.Text, in.Command.Value != 0
	if _, standing := h.faults[part]; standing == failed {
		return
	}
	kind := "fault"
	if failed {
		h.faults[part] = in.At
	} else {
		delete(h.faults, part)
		kind = "fault over"
		h.tellFault(part, 0, in)
	}
	h.pending.note(process.JournalLine{At: in.At, Kind: kind, By: "flitch", Text: part})
	h.tellFaults(in)
}

// tellFaults gives the alarm machine each fault that stands.
func (h *House) tellFaults(in process.Input) {
	for _, part := range slices.Sorted(maps.Keys(h.faults)) {
		h.tellFault(part, in.At.Sub(h.faults[part]), in)
	}
}

func (h *House) tellFault(part string, age time.Duration, in process.Input) {
	f := process.Finding{Measure: process.MeasurePathAway, Subject: part, At: in.At, Value: age.Minutes()}
	if part == FaultDisk {
		f.Measure, f.Value = process.MeasureDiskFault, 0
		if _, standing := h.faults[part]; standing {
			f.Value = 1
		}
	}
	h.board.signal(f, h.events)
}

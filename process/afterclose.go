package process

import (
	"slices"
	"time"
)

// An Ending says by whom a batch was closed, and why where that was early. The time it
// ended is Batch.Closed.
type Ending struct {
	Typed time.Time `json:"typed,omitzero"` // zero: of a batch closed by an older flitch
	By    string    `json:"by,omitempty"`
	Why   string    `json:"why,omitempty"`
}

// afterClose are the commands that a closed batch takes: papers, and nothing that would
// move a clock.
var afterClose = []CommandKind{CommandNote, CommandTasted, CommandCost, CommandAction, CommandDisposition, CommandReviewed}

// TakesClosed reports a command that a closed batch takes.
func TakesClosed(kind CommandKind) bool { return slices.Contains(afterClose, kind) }

// checkClosed refuses what comes too late.
func (b *Batch) checkClosed(c Command) error {
	if b.Open() || TakesClosed(c.Kind) {
		return nil
	}
	when := "batch " + b.ID + " was closed " + b.Closed.Format(time.RFC3339)
	if b.End.By != "" {
		when += " by " + b.End.By
	}
	return refuse(when, "notes, the taste, the cost, corrective actions, dispositions and the review may still come; readings and clocks stand as they are")
}

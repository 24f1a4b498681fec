package app

import (
	"time"

	"flitch/cmd/flitch/internal/steady"
)

// A Machine is what a machine tells of time.
type Machine = steady.Machine

// thisMachine is the one that flitch runs on.
type thisMachine struct{}

// oneMoment is how far two looks at the count may lie apart to be one moment: far less than a
// step that is told, far more than a busy machine takes for them. Proposal.
const oneMoment = 100 * time.Millisecond

// Times looks again when the machine was put to sleep, or was very busy, in between.
func (thisMachine) Times() (wall time.Time, elapsed time.Duration) {
	const tries = 5
	for range tries {
		before := sinceBoot()
		wall = time.Now().UTC().Round(0)
		if elapsed = sinceBoot(); elapsed-before <= oneMoment {
			break
		}
	}
	return wall, elapsed
}

func (thisMachine) After(d time.Duration) <-chan time.Time { return time.After(d) }

package app

import "time"

// A Machine is what a machine tells of time: see package steady.
type Machine interface {
	Wall() time.Time
	Elapsed() time.Duration
	After(d time.Duration) <-chan time.Time
}

// thisMachine is the one that flitch runs on.
type thisMachine struct{}

func (thisMachine) Wall() time.Time { return time.Now().UTC() }

// Elapsed is the count of the kernel that goes on while the machine is suspended.
func (thisMachine) Elapsed() time.Duration { return sinceBoot() }

func (thisMachine) After(d time.Duration) <-chan time.Time { return time.After(d) }

package app

import (
	"slices"
	"testing"
	"time"

	"flitch/process/engine"
)

// What was out of order before a stop and is watched by nobody after the start, or was put right in
// between, ends; what is looked at again waits for that.
func TestFaultsOfBeforeTheStartEnd(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	over := []string{engine.FaultDisk, engine.FaultBroker, brokerForgot, engine.FaultBackup, engine.FaultFleet,
		engine.FaultEnds, engine.FaultPhone + "sold", engine.FaultPhone + "push/7", "sign-in of T.V.: 5 wrong passwords in a row"}
	stays := []string{engine.FaultClock, engine.FaultSlow, engine.FaultTwins + "board"}
	for _, part := range slices.Concat(over, stays) {
		if err := s.app.engine.Report(s.patience(), part, true); err != nil {
			t.Fatal(err)
		}
	}
	s.settle()
	s.close()
	s.open()
	slices.Sort(stays)
	if !s.until(func() bool { return slices.Equal(s.app.engine.Faults(), stays) }) {
		t.Errorf("faults %q stand, want %q", s.app.engine.Faults(), stays)
	}
	s.at(time.Hour) // in which nobody has seen two of one name
	if !s.until(func() bool { return !s.app.engine.Faulty(engine.FaultTwins + "board") }) {
		t.Errorf("faults %q stand", s.app.engine.Faults())
	}
}

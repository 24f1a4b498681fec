package app

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"flitch/cmd/flitch/internal/health"
	"flitch/process/engine"
	"flitch/store"
)

// While nothing can be told one part flaps, others fail, or lose something: each is told
// as it is once that is possible.
func TestFaultsThatFlapWhileNothingCanBeStored(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	holds, release := make(chan struct{}), make(chan struct{})
	writer := make(chan error, 1)
	go func() {
		writer <- s.app.db.Update(func(*store.Tx) error { close(holds); <-release; return nil })
	}()
	<-holds
	for range 201 {
		s.app.faults.Set(engine.FaultBroker, "away")
		s.app.faults.Clear(engine.FaultBroker)
	}
	s.app.faults.Set(engine.FaultBackup, "no stick")
	s.app.lostAtBroker(brokerForgot)
	close(release)
	if err := <-writer; err != nil {
		t.Fatal(err)
	}
	told := func() bool {
		return s.app.engine.Faulty(engine.FaultBackup) && strings.Contains(fmt.Sprint(s.journal("fault over")), brokerForgot)
	}
	if !s.until(func() bool { s.settle(); return told() }) {
		t.Errorf("journal %q, then %q", s.journal("fault"), s.journal("fault over"))
	}
	if s.app.engine.Faulty(engine.FaultBroker) {
		t.Error("the engine was not told that the broker is there")
	}
}

// Whatever happens at once, and whenever it is told: little waits, and the last word of each
// part is the truth.
func TestTidingsEndWithTheTruth(t *testing.T) {
	for range 50 {
		news := newTidings()
		var faults health.Faults
		faults.Changed = func(part, _ string) { news.turned(part, faults.Has) }
		told, waited := map[string]bool{}, 0
		take := func() bool {
			r, ok := news.take()
			if ok {
				told[r.part] = r.failed
			}
			return ok
		}
		var flaps sync.WaitGroup
		for range 4 {
			flaps.Go(func() {
				for range 200 {
					if part := fmt.Sprint(rand.IntN(3)); rand.IntN(2) == 0 {
						faults.Set(part, "away")
					} else {
						faults.Clear(part)
					}
				}
			})
		}
		for range 10 {
			take()
		}
		flaps.Wait()
		for take() {
			waited++
		}
		if waited > 2*3 {
			t.Fatalf("%d words of three parts waited", waited)
		}
		for part, failed := range told {
			if failed != faults.Has(part) {
				t.Fatalf("part %s was told to be failed: %v, and is: %v", part, failed, faults.Has(part))
			}
		}
	}
}

// What comes and is over at once waits whole or not at all, and takes no state or gap the place.
func TestPassingTidingsAreBounded(t *testing.T) {
	news := newTidings()
	taken := 0
	for i := range 2*passingKept + 1 {
		part := fmt.Sprint("sign-in ", i)
		if news.pass(report{part: part, failed: true}, report{part: part}) {
			taken++
		}
	}
	if !news.pass(report{part: engine.FaultDisk, gap: "from, to"}) {
		t.Error("no place for a gap")
	}
	news.turned(engine.FaultDisk, func(string) bool { return true })
	var last report
	n := 0
	for r, ok := news.take(); ok; r, ok = news.take() {
		last = r
		n++
	}
	if taken != passingKept/2 || n != passingKept+2 || last.part != engine.FaultDisk || !last.failed || last.gap != "" {
		t.Errorf("%d taken, %d waited, the last %+v", taken, n, last)
	}
}

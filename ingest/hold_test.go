package ingest_test

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flitch/ingest"
	"flitch/process"
)

// While the store fails, all that comes is heard at once, held up to a bound, and stored in
// order when it works again; what there was no room for is counted and not acknowledged.
func TestAHoldIsBoundedAndCounted(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a := newShelf(t), &acks{}
		s.SetFail(errDisk)
		heard, lies := 0, 0
		var gaps []ingest.Gap
		in := start(t, s, mappings(), ingest.Options{Gap: func(g ingest.Gap) { gaps = append(gaps, g) },
			Heard: func(r []process.Reading, stored bool) {
				heard += len(r)
				if stored {
					lies++
				}
			}})
		const many = 20_000 // messages of 2 KB: more than is held
		began := time.Now()
		padding := strings.Repeat(" ", 2000)
		for i := range many {
			in.submit(t, "alder/slow", fmt.Sprint(3+i%2)+padding, a.of(i))
		}
		synctest.Wait()
		if heard != many || lies != 0 {
			t.Errorf("%d of %d readings heard, %d said to be stored", heard, many, lies)
		}
		if n := in.Unstored(); n == 0 || n >= many {
			t.Errorf("%d readings wait", n)
		}
		held := in.Unstored()
		s.SetFail(nil)
		time.Sleep(6 * time.Second)
		synctest.Wait()
		if len(gaps) != 1 || !gaps[0].From.Equal(began.UTC()) && gaps[0].From.Sub(began) > time.Second {
			t.Fatalf("gaps %+v", gaps)
		}
		g := gaps[0]
		if g.Held != held || g.Held+g.Lost["alder-slow"] != many || len(a.list()) != held || in.Unstored() != 0 {
			t.Errorf("held %d, lost %v, acknowledged %d, waiting %d of %d", g.Held, g.Lost, len(a.list()), in.Unstored(), many)
		}
		if rows := s.Series(t, "alder-slow"); len(rows) != held {
			t.Errorf("%d rows, %d were held", len(rows), held)
		}
		t.Logf("1 fault: %d of %d held and stored, %d counted as lost", held, many, g.Lost["alder-slow"])
	})
}

// A reading that comes again while it is held is stored once and acknowledged each time.
func TestAHeldReadingComesAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a := newShelf(t), &acks{}
		s.SetFail(errDisk)
		in := start(t, s, mappings(), ingest.Options{})
		at := time.Now().UnixMilli()
		for i := range 4 {
			in.submit(t, "kettle/core", fmt.Sprintf(`{"t":50,"at":%d}`, at), a.of(i))
			synctest.Wait()
		}
		s.SetFail(nil)
		time.Sleep(6 * time.Second)
		synctest.Wait()
		if len(a.list()) != 4 || in.Unstored() != 0 {
			t.Errorf("acknowledged %v, %d wait", a.list(), in.Unstored())
		}
		if rows := s.Series(t, "core-a"); len(rows) != 1 {
			t.Errorf("%d rows", len(rows))
		}
	})
}

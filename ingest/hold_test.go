package ingest_test

import (
	"context"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/ingesttest"
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

// A fickle disk works for some commits, and fails again.
type fickle struct {
	*ingesttest.Shelf
	left atomic.Int64 // commits until it fails, if positive
}

func (f *fickle) CommitIntake(readings []process.Reading, rejected []decode.Rejection) (ingest.Committed, error) {
	if f.left.Add(-1) == 0 {
		f.SetFail(errDisk)
	}
	return f.Shelf.CommitIntake(readings, rejected)
}

// A disk that fails again while what was held is stored has given room back for what was.
func TestAHoldSinksAsItIsStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f, a := &fickle{Shelf: newShelf(t)}, &acks{}
		f.SetFail(errDisk)
		var gaps []ingest.Gap
		in := start(t, f, mappings(), ingest.Options{MaxBatch: 100, Gap: func(g ingest.Gap) { gaps = append(gaps, g) }})
		padding := strings.Repeat(" ", 2000)
		submit := func(from, to int) {
			for i := from; i < to; i++ {
				in.submit(t, "alder/slow", fmt.Sprint(3+i%2)+padding, a.of(i))
			}
			synctest.Wait()
		}
		const many, more = 4500, 1800 // of 1.5 KB as they are kept: too many for one hold
		submit(0, many)
		f.left.Store(30)
		f.SetFail(nil)
		time.Sleep(6 * time.Second)
		synctest.Wait()
		if left := in.Unstored(); left < many/4 || left > many/2 || len(gaps) != 0 {
			t.Fatalf("%d of %d wait, gaps %+v: that shows nothing", left, many, gaps)
		}
		submit(many, many+more)
		f.SetFail(nil)
		time.Sleep(6 * time.Second)
		synctest.Wait()
		if len(gaps) != 1 || len(gaps[0].Lost) != 0 {
			t.Errorf("gaps %+v", gaps)
		}
		if rows := f.Series(t, "alder-slow"); len(rows) != many+more || len(a.list()) != many+more || in.Unstored() != 0 {
			t.Errorf("%d rows, %d acknowledged, %d wait, of %d", len(rows), len(a.list()), in.Unstored(), many+more)
		}
	})
}

// Long lists that are held wait inside, and keep no other from the door: behind an outside
// broker everything comes through one loop.
func TestHeldLongListsLeaveTheDoor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShelf(t)
		s.SetFail(errDisk)
		in := start(t, s, listMapping(), ingest.Options{Linger: time.Second}) // the first batch takes all places
		begin := time.Now().Add(-10 * time.Hour)
		const lists, each = 30, 200
		ctx, cancel := context.WithTimeout(t.Context(), time.Hour)
		defer cancel()
		for i := range lists {
			seconds := make([]int, each)
			for j := range seconds {
				seconds[j] = i*each + j
			}
			if err := in.Submit(ctx, ingest.Message{Topic: "alder/log", Payload: []byte(logOf(begin, seconds...))}); err != nil {
				t.Fatalf("list %d waits at the door while the disk fails: %v", i+1, err)
			}
		}
		synctest.Wait()
		if n := in.Unstored(); n != lists*each {
			t.Errorf("%d readings wait, want %d", n, lists*each)
		}
		s.SetFail(nil)
		time.Sleep(6 * time.Second)
		if err := in.Stop(); err != nil {
			t.Fatal(err)
		}
		if rows := s.Series(t, "slow"); len(rows) != lists*each {
			t.Errorf("%d rows", len(rows))
		}
	})
}

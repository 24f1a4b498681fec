package ingest_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flitch/ingest"
)

// The promise: nothing is acknowledged before it is on disk.
func TestAcknowledgedOnlyAfterCommit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a := newShelf(t), &acks{}
		s.Gate = make(chan struct{})
		in := start(t, s, mappings(), ingest.Options{MaxBatch: 2})
		for i := range 4 {
			in.submit(t, "alder/slow", fmt.Sprint(3+i), a.of(i))
		}
		synctest.Wait()
		if got := a.list(); len(got) != 0 {
			t.Fatalf("%v acknowledged before the first commit", got)
		}
		s.Gate <- struct{}{}
		synctest.Wait() // the second transaction is at the gate
		got, rows := a.list(), s.Series(t, "alder-slow")
		if len(got) == 0 || len(got) == 4 || len(got) != len(rows) {
			t.Fatalf("after the first commit %v acknowledged, %d on disk", got, len(rows))
		}
		close(s.Gate)
		if err := in.Stop(); err != nil {
			t.Fatal(err)
		}
		if got = a.list(); !slices.Equal(got, []int{0, 1, 2, 3}) {
			t.Errorf("acknowledged %v", got)
		}
		if rows = s.Series(t, "alder-slow"); len(rows) != 4 {
			t.Errorf("%d rows", len(rows))
		}
	})
}

// The promise: a store that fails and recovers loses nothing, and says so at once.
func TestFailingStoreLosesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a, c := newShelf(t), &acks{}, &counts{}
		var faults []error
		in := start(t, s, mappings(), ingest.Options{Observe: c, Fault: func(err error) { faults = append(faults, err) }})
		s.SetFail(errDisk)
		for i := range 10 {
			in.submit(t, "alder/slow", fmt.Sprint(i), a.of(i))
		}
		synctest.Wait()
		if len(faults) != 1 || !errors.Is(faults[0], errDisk) {
			t.Fatalf("faults at once: %v", faults)
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		if got := a.list(); len(got) != 0 {
			t.Fatalf("%d acknowledged while the disk is full", len(got))
		}
		if len(faults) != 1 || c.failed < 100 {
			t.Errorf("%d faults said, %d tries in an hour", len(faults), c.failed)
		}
		s.SetFail(nil)
		time.Sleep(6 * time.Second) // the longest pause is 5 s
		synctest.Wait()
		if got := a.list(); len(got) != 10 || !slices.IsSorted(got) {
			t.Errorf("acknowledged %v", got)
		}
		if rows := s.Series(t, "alder-slow"); len(rows) != 10 {
			t.Errorf("%d rows", len(rows))
		}
		if len(faults) != 2 || faults[1] != nil {
			t.Errorf("end of the fault: %v", faults)
		}
	})
}

// Linger makes larger batches; the engine hears of each.
func TestLinger(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a := newShelf(t), &acks{}
		var heard []int64
		in := start(t, s, mappings(), ingest.Options{Linger: 2 * time.Second, MaxBatch: 5, Notify: func(seq int64) { heard = append(heard, seq) }})
		for i := range 4 {
			in.submit(t, "alder/slow", fmt.Sprint(i), a.of(i))
		}
		synctest.Wait()
		if len(a.list()) != 0 {
			t.Fatal("did not linger")
		}
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if len(a.list()) != 4 || s.Commits() != 1 || len(heard) != 1 || heard[0] != s.LastSeq() {
			t.Errorf("%d acknowledged in %d commits, heard %v", len(a.list()), s.Commits(), heard)
		}
		for i := range 5 { // a full batch does not wait
			in.submit(t, "alder/slow", fmt.Sprint(i), a.of(4+i))
		}
		synctest.Wait()
		if len(a.list()) != 9 || s.Commits() != 2 {
			t.Errorf("%d acknowledged in %d commits", len(a.list()), s.Commits())
		}
	})
}

// Back-pressure: a full queue holds Submit until there is room, or its caller
// gives up.
func TestFullQueueBlocks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a := newShelf(t), &acks{}
		s.Gate = make(chan struct{})
		in := start(t, s, mappings(), ingest.Options{MaxBatch: 1, Queue: 1})
		in.submit(t, "alder/slow", "1", a.of(0)) // at the gate
		synctest.Wait()
		in.submit(t, "alder/slow", "2", a.of(1)) // in the queue
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		err := in.Submit(ctx, ingest.Message{Topic: "alder/slow", Payload: []byte("3"), Ack: a.of(2)})
		if !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("Submit on a full queue: %v", err)
		}
		late := make(chan error, 1)
		go func() {
			late <- in.Submit(t.Context(), ingest.Message{Topic: "alder/slow", Payload: []byte("4"), Ack: a.of(3)})
		}()
		synctest.Wait()
		close(s.Gate)
		if err := <-late; err != nil {
			t.Error(err)
		}
		if err := in.Stop(); err != nil {
			t.Error(err)
		}
		if got := a.list(); !slices.Equal(got, []int{0, 1, 3}) {
			t.Errorf("acknowledged %v", got)
		}
	})
}

// Stopping stores and acknowledges what was taken, and takes nothing more.
func TestStopDrains(t *testing.T) {
	s, a := newShelf(t), &acks{}
	in := start(t, s, mappings(), ingest.Options{MaxBatch: 100, Queue: 10000})
	for i := range 5000 {
		in.submit(t, "alder/slow", "4", a.of(i))
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := a.list(); len(got) != 5000 || !slices.IsSorted(got) {
		t.Errorf("%d acknowledged", len(got))
	}
	if rows := s.Series(t, "alder-slow"); len(rows) != 5000 {
		t.Errorf("%d rows", len(rows))
	}
	if err := in.Submit(context.Background(), ingest.Message{Topic: "alder/slow"}); !errors.Is(err, ingest.ErrStopped) {
		t.Errorf("Submit after the end: %v", err)
	}
}

// A store that stays broken does not keep the daemon from stopping: what was not
// stored is not acknowledged, and said.
func TestStopGivesUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, a := newShelf(t), &acks{}
		s.SetFail(errDisk)
		in := start(t, s, mappings(), ingest.Options{StopWithin: 10 * time.Second, MaxBatch: 2})
		for i := range 3 {
			in.submit(t, "alder/slow", "4", a.of(i))
		}
		began := time.Now()
		err := in.Stop()
		if !errors.Is(err, errDisk) || !strings.Contains(err.Error(), "3 messages were not stored and not acknowledged") {
			t.Errorf("error %v", err)
		}
		if took := time.Since(began); took != 10*time.Second {
			t.Errorf("took %v", took)
		}
		if len(a.list()) != 0 {
			t.Error("acknowledged")
		}
	})
}

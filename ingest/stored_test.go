package ingest_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
)

func listMapping() []ingest.Mapping {
	return []ingest.Mapping{{Topic: "alder/log", Probe: probe("slow", process.Product),
		Spec: decode.Spec{List: true, Each: "/log", Value: "/v", Time: "/ts", TimeFormat: "unix"}}}
}

// logOf is a message with readings of those seconds after an instant.
func logOf(from time.Time, seconds ...int) string {
	var all []string
	for _, s := range seconds {
		all = append(all, fmt.Sprintf(`{"ts":%d,"v":%d}`, from.Unix()+int64(s), s%50))
	}
	return `{"log":[` + strings.Join(all, ",") + `]}`
}

// Whatever order stored readings come in, in whatever pieces, some of them again, over a
// restart: the same readings are on disk, each once.
func TestStoredReadingsInAnyOrder(t *testing.T) {
	begin := time.Now().Add(-10 * time.Hour).Truncate(time.Second)
	for seed := range uint64(20) {
		s, c := newShelf(t), &counts{}
		chance := rand.New(rand.NewPCG(seed, 1))
		order := chance.Perm(600)
		in := start(t, s, listMapping(), ingest.Options{Observe: c})
		sent := 0
		for len(order) > 0 {
			n := min(1+chance.IntN(40), len(order))
			piece := order[:n]
			in.submit(t, "alder/log", logOf(begin, piece...), nil)
			sent += n
			if chance.IntN(4) == 0 { // comes again
				in.submit(t, "alder/log", logOf(begin, piece...), nil)
				sent += n
			}
			if order = order[n:]; chance.IntN(10) == 0 {
				if err := in.Stop(); err != nil {
					t.Fatal(err)
				}
				in = start(t, s, listMapping(), ingest.Options{Observe: c})
			}
		}
		if err := in.Stop(); err != nil {
			t.Fatal(err)
		}
		rows := s.Series(t, "slow")
		if len(rows) != 600 || c.stored != 600 || c.dup != sent-600 {
			t.Fatalf("seed %d: %d rows, %d stored, %d absorbed of %d sent", seed, len(rows), c.stored, c.dup, sent)
		}
		for i, r := range rows {
			if r.Measured.Unix() != begin.Unix()+int64(i) || r.Value != float64(i%50) || r.Reason != "late" || !r.Device.Equal(r.Measured) {
				t.Fatalf("seed %d, row %d: %+v", seed, i, r)
			}
		}
	}
}

// Live readings go on as before: a stored one does not move the window of the clock.
func TestStoredReadingsDoNotMoveTheClockWindow(t *testing.T) {
	s, now := newShelf(t), time.Now().Truncate(time.Millisecond)
	maps := []ingest.Mapping{{Topic: "alder/slow", Probe: probe("slow", process.Product),
		Spec: decode.Spec{Value: "/v", Time: "/ts", TimeFormat: "unix-ms", Backfill: "/stored"}}}
	in := start(t, s, maps, ingest.Options{})
	send := func(at time.Time, stored bool) {
		in.submit(t, "alder/slow", fmt.Sprintf(`{"v":4,"ts":%d,"stored":%t}`, at.UnixMilli(), stored), nil)
	}
	send(now.Add(-2*time.Minute), false)
	send(now.Add(-9*time.Hour), true)
	send(now.Add(-3*time.Minute), false) // before the last accepted one
	send(now.Add(-time.Minute), false)
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	var reasons []string
	for _, r := range s.Series(t, "slow") {
		reasons = append(reasons, r.Reason)
	}
	if got, want := strings.Join(reasons, ", "), "late, , , device time before the last accepted one"; got != want {
		t.Errorf("reasons %q, want %q", got, want)
	}
}

// A flood of long lists waits at the door: what waits inside is bounded in readings,
// not only in messages, and nothing of it is lost.
func TestLongListsWaitAtTheDoor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShelf(t)
		s.Gate = make(chan struct{})
		in := start(t, s, listMapping(), ingest.Options{Queue: 1000, MaxBatch: 1})
		taken, done := 0, make(chan struct{})
		begin := time.Now().Add(-10 * time.Hour)
		go func() {
			defer close(done)
			for i := range 20 {
				seconds := make([]int, 200)
				for j := range seconds {
					seconds[j] = i*200 + j
				}
				if err := in.Submit(context.Background(), ingest.Message{Topic: "alder/log", Payload: []byte(logOf(begin, seconds...))}); err != nil {
					t.Error(err)
					return
				}
				taken++
			}
		}()
		synctest.Wait()
		if taken != 8 {
			t.Errorf("%d long lists taken while nothing can be stored, want 8", taken)
		}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		if err := in.Submit(ctx, ingest.Message{Topic: "alder/log", Payload: []byte(logOf(begin, 5000))}); err != nil {
			t.Errorf("a short one has to wait: %v", err)
		}
		close(s.Gate)
		<-done
		if err := in.Stop(); err != nil {
			t.Fatal(err)
		}
		if rows := s.Series(t, "slow"); len(rows) != 20*200+1 {
			t.Errorf("%d rows", len(rows))
		}
	})
}

// One that waits at the door leaves when the intake stops, and its place is free again
// when its context ends.
func TestLongListsLeaveTheDoor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShelf(t)
		s.Gate = make(chan struct{})
		in := start(t, s, listMapping(), ingest.Options{Queue: 1, MaxBatch: 1})
		begin := time.Now().Add(-10 * time.Hour)
		seconds := make([]int, 200)
		for j := range seconds {
			seconds[j] = j
		}
		long := ingest.Message{Topic: "alder/log", Payload: []byte(logOf(begin, seconds...))}
		errs := []error{}
		for range 20 { // two are taken: one is being stored, one waits
			ctx, cancel := context.WithTimeout(t.Context(), time.Second)
			errs = append(errs, in.Submit(ctx, long))
			cancel()
		}
		if n := len(slices.DeleteFunc(errs, func(err error) bool { return errors.Is(err, context.DeadlineExceeded) })); n != 2 {
			t.Errorf("%d taken", n)
		}
		late := make(chan error, 1)
		go func() { late <- in.Submit(context.Background(), long) }()
		synctest.Wait()
		close(s.Gate)
		if err := in.Stop(); err != nil {
			t.Fatal(err)
		}
		if err := <-late; err != nil && !errors.Is(err, ingest.ErrStopped) {
			t.Error(err)
		}
		if rows := s.Series(t, "slow"); len(rows) != 200 {
			t.Errorf("%d rows", len(rows))
		}
	})
}

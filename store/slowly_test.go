package store

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"flitch/process"
)

// Who reads slowly sees the same readings, blocks and rows of three walks, and holds back nothing
// that is written meanwhile: all of the log can be folded into the file, which it cannot be
// under a walk that holds a snapshot.
func TestASlowReaderHoldsNoSnapshot(t *testing.T) {
	db := newDB(t)
	var all []process.Reading
	for i := range 2*readAtOnce + 100 {
		all = append(all, plain("a", i))
	}
	for part := range slices.Chunk(all[:20_000], 5_000) {
		commit(t, db, part...)
	}
	seal(t, db, 10_000)
	if err := db.PackAll(context.Background(), nil); err != nil {
		t.Fatal(err)
	}
	for part := range slices.Chunk(all[20_000:], 5_000) {
		commit(t, db, part...)
	}
	from, to := noon.Add(time.Second), noon.Add(time.Duration(len(all)-1)*time.Second)

	held := 0
	folded := func(n int) bool { // after one more reading
		commit(t, db, plain("b", n))
		var busy, frames, done int
		if err := db.writer.QueryRow("PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &frames, &done); err != nil {
			t.Fatal(err)
		}
		return done == frames
	}
	walk := func(each func(fn func(int64, process.Reading) error) error) (seen []process.Reading) {
		t.Helper()
		held = 0
		err := each(func(_ int64, r process.Reading) error {
			if seen = append(seen, r); len(seen)%10_000 == 5_000 && !folded(len(seen)) {
				held++
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return seen
	}
	want := walk(func(fn func(int64, process.Reading) error) error { return db.EachReading([]string{"a"}, from, to, fn) })
	if held == 0 || len(want) != len(all)-2 {
		t.Fatalf("a walk with a snapshot of %d readings held %d writes back: the test shows nothing", len(want), held)
	}
	got := walk(func(fn func(int64, process.Reading) error) error { return db.EachReadingSlowly("a", from, to, fn) })
	if held > 0 {
		t.Errorf("%d times what was written meanwhile was held back", held)
	}
	if !slices.EqualFunc(got, want, func(a, b process.Reading) bool { return a.Value == b.Value && a.Measured.Equal(b.Measured) }) {
		t.Errorf("%d readings, want %d, or others", len(got), len(want))
	}
	stop := errors.New("enough")
	if err := db.EachReadingSlowly("a", from, to, func(int64, process.Reading) error { return stop }); err != stop {
		t.Errorf("fn's error came back as %v", err)
	}
	if err := db.EachReadingSlowly("nobody", from, to, func(int64, process.Reading) error { return stop }); err != nil {
		t.Errorf("nothing to read: %v", err)
	}
}

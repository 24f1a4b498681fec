package store

import (
	"context"
	"testing"
	"time"

	"flitch/process/evidence"
)

// A number that was given out is not given out again, though the reading it stood for was the
// newest of the log and was removed before anything else came.
func TestTheNumberOfARemovedReadingStaysTaken(t *testing.T) {
	path := newPath(t)
	db := open(t, path)
	for i := range 6000 {
		commit(t, db, plain("probe", i))
	}
	seal(t, db, 6000)
	if err := db.PackAll(context.Background(), func(Packed) {}); err != nil {
		t.Fatal(err)
	}
	last := db.LastSeq()
	rule := KeepRule{Before: noon.Add(100 * 365 * 24 * time.Hour), Words: "keep_readings"}
	for {
		due := must[[]Due](t)(db.Due(rule))
		if len(due) == 0 {
			break
		}
		must[evidence.Removal](t)(db.Remove(context.Background(), due[0], rule, noon))
	}
	if newest := must[int64](t)(db.NewestReading()); newest != 0 {
		t.Fatalf("reading %d is left", newest)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	db = open(t, path)
	if got := db.LastSeq(); got != last {
		t.Errorf("the next number follows %d, and %d was given out", got, last)
	}
}

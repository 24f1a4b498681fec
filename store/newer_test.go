package store

import (
	"slices"
	"testing"

	"flitch/process"
)

// Whoever reads what is newer than a number misses nothing that came in later, however
// long ago it was measured, and sees nothing twice.
func TestNewerReadingsAreThoseTakenInLater(t *testing.T) {
	db := newDB(t)
	if newest := must[int64](t)(db.NewestReading()); newest != 0 {
		t.Errorf("newest of an empty log: %d", newest)
	}
	commit(t, db, plains(100, 24)...)
	newest := must[int64](t)(db.NewestReading())
	if newest != db.LastSeq() {
		t.Errorf("newest %d, last number %d", newest, db.LastSeq())
	}
	bad := plain("probe-3", 40)
	bad.Quality, bad.Reason = process.Bad, "sentinel"
	late := []process.Reading{plain("probe-7", 5), bad, plain("probe-0", 200)}
	commit(t, db, append(late, plains(100, 3)...)...) // three came again
	var got []process.Reading
	last := newest
	err := db.EachReadingAfter(newest, func(seq int64, r process.Reading) error {
		if seq <= last {
			t.Errorf("number %d after %d", seq, last)
		}
		last = seq
		got = append(got, r)
		return nil
	})
	if err != nil || len(got) != len(late) {
		t.Fatalf("%d readings, %v, want the %d that are new", len(got), err, len(late))
	}
	for _, want := range late {
		if !slices.ContainsFunc(got, func(r process.Reading) bool {
			return r.Probe == want.Probe && r.Measured.Equal(want.Measured) && r.Value == want.Value && r.Quality == want.Quality
		}) {
			t.Errorf("%+v is missing", want)
		}
	}
}

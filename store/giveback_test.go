package store

import (
	"context"
	"testing"
)

// Pages that readings have left are given back, in steps, and what is there stays as it is.
func TestPagesAreGivenBack(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(0, 60_000)...)
	seal(t, db, 50_000)
	pages := func() (all, free int64) {
		t.Helper()
		if err := db.writer.QueryRow("SELECT (SELECT page_count FROM pragma_page_count), (SELECT freelist_count FROM pragma_freelist_count)").Scan(&all, &free); err != nil {
			t.Fatal(err)
		}
		return all, free
	}
	if err := db.PackAll(context.Background(), nil); err != nil {
		t.Fatal(err)
	}
	before, free := pages()
	if free < before/2 {
		t.Fatalf("%d of %d pages are free: the test shows nothing", free, before)
	}
	if more, err := db.GiveBack(); err != nil || more { // little in all: new readings use it
		t.Errorf("a small file is made smaller: %v, %v", more, err)
	}
	if !db.muchIsFree(free) || db.muchIsFree(before/freeShare) {
		t.Error("what is much is not a quarter")
	}
	if err := db.vacuum(); err != nil {
		t.Fatal(err)
	}
	after, left := pages()
	if after != before-backPages || left != free-backPages {
		t.Errorf("%d pages became %d, free %d became %d", before, after, free, left)
	}
	if err := db.Check(); err != nil {
		t.Error(err)
	}
	if n := must[int64](t)(db.CountReadings()); n != 60_000 {
		t.Errorf("%d readings are left", n)
	}
}

package store

import (
	"strings"
	"testing"
)

// A step of the machine's clock while a write is under way is neither a disk that hangs nor
// hides one: the time has the machine's count in it, by which Sub goes.
func TestAWriteIsTimedByTheCount(t *testing.T) {
	db := newDB(t)
	if err := db.Update(func(*Tx) error {
		if since := db.Writing(); !strings.Contains(since.String(), " m=") {
			t.Errorf("a write has been under way since %v", since)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if since := db.Writing(); !since.IsZero() {
		t.Errorf("nothing is written, since %v", since)
	}
}

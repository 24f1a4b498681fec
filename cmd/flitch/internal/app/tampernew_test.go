package app

import (
	"strings"
	"testing"

	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// A cut of power between a command and its evaluation leaves a batch that was begun and has no
// row yet. Nothing is wrong with that, and the next start evaluates it; it is not measured. A
// batch of before that has no row is one that somebody took out.
func TestABatchThatIsNotEvaluatedYetIsNotMissing(t *testing.T) {
	_, path := sealedShop(t)
	db, err := store.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	said, err := db.Commands("PS-02")
	if err != nil || len(said) == 0 {
		t.Fatalf("%d commands, %v", len(said), err)
	}
	next := said[0].Command
	next.ID, next.Batch = "next", "PS-03"
	err = db.Update(func(tx *store.Tx) error {
		_, _, err := tx.AppendCommand(next, said[0].EventTime())
		return err
	})
	if err != nil || next.Kind != process.CommandNew {
		t.Fatalf("%v %v", next.Kind, err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	looks := func() (bad *evidence.Finding, text string) {
		report, err := verify.Database(t.Context(), path, "")
		if err != nil {
			t.Fatal(err)
		}
		return report.First(), lines(report)
	}
	if bad, text := looks(); bad != nil || !strings.Contains(text, "not measured  clocks: batch PS-03 was begun") {
		t.Errorf("not evaluated yet:\n%s", text)
	}
	forge(t, path, "DELETE FROM batches WHERE ?1 >= 0", 0)
	if bad, text := looks(); bad == nil || !strings.Contains(bad.Text, "batch PS-02 was begun, and is not in the list") {
		t.Errorf("a batch was taken out:\n%s", text)
	}
}

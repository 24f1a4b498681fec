package engine

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/plans"
	"flitch/store"
)

// A walked store tells when a batch is computed anew, and fails when that is told to.
type walked struct {
	base
	began func() error
}

func (s walked) EachReading(probes []string, from, to time.Time, fn func(int64, process.Reading) error) error {
	if err := s.began(); err != nil {
		return err
	}
	return s.base.EachReading(probes, from, to, fn)
}

func (s walked) Update(fn func(Tx) error) error {
	return s.DB.Update(func(tx *store.Tx) error { return fn(batchTx{baseTx{tx}}) })
}

type batchTx struct{ baseTx }

func (t batchTx) SaveBatch(b BatchRow) error {
	return t.Tx.SaveBatch(store.BatchRow{ID: b.ID, Status: map[bool]string{true: "open", false: "closed"}[b.Open], Started: b.Started, Cursor: b.Cursor, State: b.State})
}

// hams is a night with batches in one fridge, half an hour old.
func hams(t *testing.T, began func(*night) error, ids ...string) *night {
	n := newNight(t)
	n.engine.Store = walked{base{n.db}, func() error { return began(n) }}
	plan, err := plans.BuiltIn("country-ham")
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		n.must(process.Command{Kind: process.CommandNew, Batch: id, By: "T.V.", At: n.clock.now, New: &process.NewBatch{
			Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 9000, ThicknessMM: 120}},
			Probes: []process.PlacedProbe{{Probe: "bottle", Place: "alder", Placement: process.Product, Interval: time.Minute}}}})
	}
	n.until(ten.Add(30*time.Minute), 3, nil)
	return n
}

// late stores a reading of twenty minutes ago.
func (n *night) late() {
	n.t.Helper()
	at := n.clock.now.Add(-20*time.Minute - 30*time.Second)
	if _, err := n.db.CommitIntake([]process.Reading{{Probe: "bottle", Measured: at, Device: at, Received: n.clock.now, Value: 3}}, nil); err != nil {
		n.t.Fatal(err)
	}
}

// stored puts a command into the log as another writer would.
func (n *night) stored(c process.Command) {
	n.t.Helper()
	n.said++
	c.ID, c.At, c.Typed = "stored-"+c.Text, n.clock.now, n.clock.now
	if err := n.db.Update(func(tx *store.Tx) error { _, _, err := tx.AppendCommand(c, n.clock.now); return err }); err != nil {
		n.t.Fatal(err)
	}
}

func (n *night) catchUp() {
	n.t.Helper()
	if err := n.engine.catchUp(); err != nil {
		n.t.Fatal(err)
	}
}

func (n *night) holds(words string) bool {
	return slices.ContainsFunc(n.messages(), func(m string) bool { return strings.Contains(m, words) })
}

// Rings that were evaluated are on the disk before a batch is computed anew, and what comes in
// while one is computed is evaluated before the next.
func TestARingDoesNotWaitForBatchesThatAreComputedAnew(t *testing.T) {
	walks := 0
	n := hams(t, func(n *night) error {
		walks++
		switch walks {
		case 1:
			if !n.holds("damaged") {
				t.Errorf("the first begins, and stored is only %v", n.messages())
			}
			n.stored(fault(FaultDisk, 1))
		case 2:
			if !n.holds("disk") {
				t.Errorf("the second begins, and stored is only %v", n.messages())
			}
		}
		return nil
	}, "H1", "H2", "H3")
	n.late()
	n.stored(fault(FaultDamage, 1))
	n.catchUp()
	if walks != 3 {
		t.Errorf("%d batches were computed anew, want 3", walks)
	}
	for _, b := range n.engine.house.open {
		if b.NeedsRecount {
			t.Errorf("%s still waits", b.ID)
		}
	}
}

// A stream of late readings makes a batch be computed anew after it has rested as long as
// that took, not each ten seconds.
func TestABatchThatTakesLongRestsAsLong(t *testing.T) {
	walks := 0
	n := hams(t, func(n *night) error { walks++; n.clock.now = n.clock.now.Add(40 * time.Second); return nil }, "H1")
	for i, c := range []struct {
		after time.Duration
		walks int
	}{{0, 1}, {39 * time.Second, 1}, {time.Second, 2}, {-24 * time.Hour, 3}} { // a clock that is set back ends a rest
		n.clock.now = n.clock.now.Add(c.after)
		at := ten.Add(10*time.Minute + time.Duration(1+i)*time.Second)
		if _, err := n.db.CommitIntake([]process.Reading{{Probe: "bottle", Measured: at, Device: at, Received: ten.Add(time.Hour), Value: 3}}, nil); err != nil {
			t.Fatal(err)
		}
		n.catchUp()
		if walks != c.walks {
			t.Fatalf("%v later it was computed anew %d times, want %d", c.after, walks, c.walks)
		}
	}
}

// A closed batch that could not be read when it was written is computed anew when it can be.
func TestAClosedBatchThatCouldNotBeReadIsComputedAnewLater(t *testing.T) {
	broken := true
	n := hams(t, func(*night) error {
		if broken {
			return errors.New("the page cannot be read")
		}
		return nil
	}, "H1")
	n.late()
	n.must(process.Command{Kind: process.CommandDisposition, Batch: "H1", By: "T.V.", At: n.clock.now, Disposition: process.Discard, Text: "ten times the salt"})
	n.must(process.Command{Kind: process.CommandClose, Batch: "H1", By: "T.V.", At: n.clock.now, Text: "for the test"})
	n.catchUp()
	row, _, err := n.db.Batch("H1")
	if err != nil || row.Status != "closed" || !strings.Contains(string(row.State), `"needs_recount":true`) {
		t.Fatalf("it is stored as %s, %v: %.300s", row.Status, err, row.State)
	}
	broken = false
	n.clock.now = n.clock.now.Add(recountEvery)
	n.catchUp()
	n.clock.now = n.clock.now.Add(2 * time.Minute)
	n.catchUp()
	if row, _, err = n.db.Batch("H1"); err != nil || row.Status != "closed" || strings.Contains(string(row.State), `"needs_recount":true`) {
		t.Errorf("when it can be read it is stored as %s, %v: %.300s", row.Status, err, row.State)
	}
	if len(n.engine.owed) != 0 {
		t.Errorf("owed are still %v", n.engine.owed)
	}
}

// A forgetful store has an index that is damaged: it finds nothing of what was said of a batch.
type forgetful struct{ walked }

func (s forgetful) Commands(batch string) ([]process.Input, error) {
	all, err := s.walked.Commands(batch)
	if batch != "" && err == nil {
		return all[:0], nil
	}
	return all, err
}

// A batch of which the database finds no beginning is told of as damaged, and the engine goes on.
func TestABatchWithoutABeginningIsDamage(t *testing.T) {
	n := hams(t, func(*night) error { return nil }, "H1")
	n.late()
	n.engine.Store = forgetful{n.engine.Store.(walked)}
	var said error
	n.engine.Blind = func(err error) { said = err }
	n.catchUp()
	if !errors.Is(said, ErrStored) || !strings.Contains(said.Error(), "batch H1") {
		t.Errorf("%v, want that what is stored cannot be read", said)
	}
}

package fleet

import (
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"flitch/process"
	"flitch/store"
)

// begin says that a batch begins, and returns the number of that in the log.
func (s *shed) begin(id string) (seq int64) {
	s.t.Helper()
	s.must(s.db.Update(func(tx *store.Tx) (err error) {
		c := process.Command{ID: s.path + id, Kind: process.CommandNew, At: noon, By: "T.V.", Batch: id, New: &process.NewBatch{}}
		seq, _, err = tx.AppendCommand(c, s.now())
		return err
	}))
	return seq
}

// evaluate stores a batch as of a number.
func (s *shed) evaluate(id string, cursor int64) {
	s.t.Helper()
	s.must(s.db.Update(func(tx *store.Tx) error {
		return tx.SaveBatch(store.BatchRow{ID: id, Status: "open", Started: noon, Cursor: cursor, State: []byte("{}")})
	}))
}

// batchesOf turns the sink and says how many batches are there, and up to which number.
func (h *house) batchesOf(sink *Sink, name string) (states int, through int64) {
	h.t.Helper()
	if err := turn(sink); err != nil {
		h.t.Fatal(err)
	}
	site := h.read(name)
	defer site.in.Close()
	rows, err := site.States()
	if err == nil {
		through, err = site.BatchesThrough()
	}
	if err != nil {
		h.t.Fatal(err)
	}
	return len(rows), through
}

// A batch that was begun, sent, and not evaluated when the machine lost its power is told after
// the start, and until then nobody takes it for missing.
func TestABatchThatWasBegunBeforeAKillIsTold(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	at := h.address(h.writer())
	s.evaluate("LD-01", s.begin("LD-01"))
	sink := s.sink(at, "larder")
	states, first := h.batchesOf(sink, "larder")
	if states != 1 || first < 1 {
		t.Fatalf("%d batches as of number %d", states, first)
	}
	begun := s.begin("LD-02")
	if states, through := h.batchesOf(sink, "larder"); states != 1 || through != first {
		t.Errorf("%d batches as of number %d; the second was begun at %d and is not evaluated", states, through, begun)
	}
	sink = s.sink(at, "larder") // a start, and still nothing evaluated
	if states, through := h.batchesOf(sink, "larder"); states != 1 || through != first {
		t.Errorf("%d batches as of number %d after a start", states, through)
	}
	s.evaluate("LD-02", begun)
	if states, through := h.batchesOf(sink, "larder"); states != 2 || through < begun {
		t.Errorf("%d batches as of number %d, want both as of %d", states, through, begun)
	}
}

// Tables of each older schema, with a site in them, are refused until fleet init brings them up to
// date, and the site goes on where it was.
func TestOldTablesAreBroughtUpToDate(t *testing.T) {
	steps, err := migrations()
	if err != nil {
		t.Fatal(err)
	}
	for old := 1; old < len(steps); old++ {
		oldTables(t, old, steps)
	}
}

func oldTables(t *testing.T, old int, steps []string) {
	h, s, ctx := newHouse(t), newShed(t), context.Background()
	h.database = h.Database()
	err := h.address("owner").once(ctx, turnWithin, func(ctx context.Context, tx pgx.Tx) error { return forward(ctx, tx, 0, steps[:old]) })
	if err != nil {
		t.Fatal(err)
	}
	writer := h.User("site")
	s.work(500)
	history, err := begins(s.db)
	if err != nil {
		t.Fatal(err)
	}
	h.Do(h.database, "INSERT INTO flitch.sites (name, history, writer) VALUES ('larder', '"+history+"', '"+writer+"')")
	if err := Allow(ctx, h.address("owner"), writer, true); err == nil {
		t.Error("rights are given on old tables")
	}
	h.Do(h.database, "GRANT USAGE ON SCHEMA flitch TO "+writer+"; GRANT SELECT ON flitch.migrations TO "+writer)
	sink := s.sink(h.parse(h.URL(writer, h.database)), "larder")
	wantTrouble(t, turn(sink), Schema, "flitch fleet init")
	if from, to, err := Migrate(ctx, h.address("owner")); err != nil || from != old || to != len(steps) {
		t.Fatal(from, to, err)
	}
	if err := Allow(ctx, h.address("owner"), writer, true); err != nil {
		t.Fatal(err)
	}
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
}

// After a start only what is not there as it is here goes up: a state that was computed anew, and a
// record that could not be made.
func TestAStartTellsWhatDiffers(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	at := h.address(h.writer())
	for _, id := range []string{"LD-01", "LD-02", "LD-03"} {
		s.closed(id)
	}
	sink := s.sink(at, "larder")
	made, broken := 0, true
	record := func(_ context.Context, id string, w io.Writer) error {
		if broken && id == "LD-03" {
			return errors.New("it cannot be made now")
		}
		made++
		_, err := w.Write([]byte("record {\"piece\":1}\n"))
		return err
	}
	sink.o.Proof = record
	for range 5 {
		if err := turn(sink); err != nil {
			t.Fatal(err)
		}
	}
	if made != 2 {
		t.Fatalf("%d records were made", made)
	}
	broken = false
	row, _, err := s.db.Batch("LD-02")
	s.must(err)
	row.State = []byte(`{"anew":true}`)
	s.must(s.db.Update(func(tx *store.Tx) error { return tx.SaveBatch(row) }))
	sink = s.sink(at, "larder") // a start
	sink.o.Proof = record
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if len(sink.desk.dirty) != 0 || made != 3 {
		t.Errorf("%v are still to be told, %d records were made, want one more", sink.desk.dirty, made)
	}
	site := h.read("larder")
	defer site.in.Close()
	states, err := site.States()
	s.must(err)
	for _, b := range states {
		if want := map[string]string{"LD-02": `{"anew":true}`}[b.ID]; want != "" && string(b.State) != want {
			t.Errorf("%s is %s", b.ID, b.State)
		}
	}
	is, err := sink.toldBatches(t.Context())
	s.must(err)
	again := snapshots{dirty: map[string]int64{}, papers: map[string]time.Time{}}
	s.must(again.look(s.db, is))
	if len(again.dirty) != 0 || len(again.papers) != 0 {
		t.Errorf("the next start would tell %v, and the records %v", again.dirty, again.papers)
	}
}

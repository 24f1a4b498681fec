package fleet

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"flitch/process"
	"flitch/store"
)

// logged are readings of a logger's file, more than a year old.
func logged(n int, value float64) (all []process.Reading) {
	for i := range n {
		at := noon.Add(-400*24*time.Hour + time.Duration(i)*time.Minute)
		all = append(all, process.Reading{Probe: "logger", Measured: at, Received: noon, Value: value, Quality: process.Suspect, Reason: process.Imported})
	}
	return all
}

// removeOld removes what is older than three hundred days, as the owner's rule does.
func (s *shed) removeOld() {
	s.t.Helper()
	s.must(s.db.PackAll(context.Background(), nil))
	rule := store.KeepRule{Before: noon.Add(-300 * 24 * time.Hour), Words: "the rule"}
	due, err := s.db.Due(rule)
	s.must(err)
	if len(due) == 0 {
		s.t.Fatal("nothing is old")
	}
	for _, d := range due {
		_, err := s.db.Remove(context.Background(), d, rule, noon)
		s.must(err)
	}
}

// Readings that the site removed after they were sent, and that are imported there once more, are
// sent once more, by their new numbers. Who looks for readings of a time gets each moment once.
func TestReadingsThatAreImportedAgainAreSentAgain(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	sink := s.sink(h.address(h.writer()), "larder")
	_, err := s.db.CommitIntake(logged(6_000, 4), nil)
	s.must(err)
	s.seal()
	s.must(turn(sink))
	s.removeOld()
	s.must(turn(sink))
	first := s.db.LastSeq()
	done, err := s.db.CommitIntake(logged(1_000, 5), nil)
	if s.must(err); done.Stored == 0 {
		t.Fatal("at the site they are not new")
	}
	s.work(500)
	s.must(turn(sink))
	here, there := map[int64]float64{}, map[int64]float64{}
	for into, from := range map[*map[int64]float64]interface {
		EachReading([]string, time.Time, time.Time, func(int64, process.Reading) error) error
	}{&here: s.db, &there: h.read("larder")} {
		s.must(from.EachReading([]string{"logger"}, noon.Add(-9000*time.Hour*24), noon, func(seq int64, r process.Reading) error {
			if seq > first {
				(*into)[seq] = r.Value
			}
			return nil
		}))
	}
	if len(here) != done.Stored || fmt.Sprint(here) != fmt.Sprint(there) {
		t.Errorf("%d were imported again, %d here and %d there", done.Stored, len(here), len(there))
	}
	h.counts(6_000-done.Stored, "SELECT count(*) FROM flitch.measurements WHERE probe = 'logger' AND value = 4")
	h.counts(done.Stored, "SELECT count(*) FROM flitch.measurements WHERE probe = 'logger' AND value = 5")
	h.counts(6_000+done.Stored, "SELECT count(*) FROM flitch.readings WHERE probe = 'logger'")
}

// counts fails unless the query counts so many.
func (h *house) counts(want int, query string) {
	h.t.Helper()
	got := 0
	err := h.address("owner").once(context.Background(), turnWithin, func(ctx context.Context, tx pgx.Tx) error {
		return tx.QueryRow(ctx, query).Scan(&got)
	})
	if err != nil || got != want {
		h.t.Errorf("%s: %d, want %d (%v)", query, got, want, err)
	}
}

// noise is text that no index makes shorter.
func noise(n int) string {
	var b strings.Builder
	for b.Len() < n {
		b.WriteByte(byte('!' + rand.IntN(90)))
	}
	return b.String()
}

// An id, and the name of a batch in what is said of none, can be longer than any index holds.
// They arrive as all else, and what was said of a batch is found by its name.
func TestNamesThatAreLongerThanAnIndexHolds(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	long := strings.Repeat("é", 60) // the longest that a batch could have, and one that only begins with it
	for i, c := range []process.Command{{ID: noise(6_000)}, {ID: "a", Batch: noise(6_000)}, {ID: "b", Batch: long}, {ID: "c", Batch: long + "é"}, {ID: "d"}} {
		c.Kind, c.At, c.By, c.Text = process.CommandNote, noon, "T.V.", fmt.Sprint(i)
		s.must(s.db.Update(func(tx *store.Tx) error { _, _, err := tx.AppendCommand(c, s.now()); return err }))
	}
	s.seal()
	if err := turn(s.sink(h.address(h.writer()), "larder")); err != nil {
		t.Fatalf("%.200v", err)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatalf("%.200s", bad)
	}
	site := h.read("larder")
	for _, batch := range []string{"", long, long + "é", "é"} {
		here, err := s.db.Commands(batch)
		s.must(err)
		there, err := site.Commands(batch)
		s.must(err)
		if fmt.Sprint(here) != fmt.Sprint(there) || batch == long && len(there) != 1 {
			t.Errorf("of batch %q %d were said here, %d there", batch, len(here), len(there))
		}
	}
}

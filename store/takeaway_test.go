package store

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/evidence"
)

// coverAll makes blocks of all that is sealed, and takes no row away.
func coverAll(t *testing.T, db *DB) (rows int) {
	t.Helper()
	for p := db.NewPacker(2); ; {
		probe, c := p.due()
		if c == nil {
			if more, err := p.countSeal(); err != nil {
				t.Fatal(err)
			} else if !more {
				return rows
			}
			continue
		}
		done, err := p.pack(context.Background(), probe, c)
		if err != nil {
			t.Fatal(err)
		}
		delete(p.counts, probe)
		rows += done.Readings
	}
}

// Rows that are in blocks and not taken away yet are there once, for every method; so are they while
// they are taken away bit by bit, and while more comes in.
func TestCoveredRowsAreThereOnce(t *testing.T) {
	looks := 0
	for seed := range uint64(2) {
		s := &storm{Rand: rand.New(rand.NewPCG(seed, 6)), clock: noon}
		rows, db := newDB(t), newDB(t)
		for range 25 {
			s.step(t, rows, db)
			seal(t, rows, 30)
			seal(t, db, 30)
		}
		n := coverAll(t, db)
		for left := n; left > 0; looks++ {
			s.step(t, rows, db)
			compare(t, fmt.Sprintf("log %d, %d of %d rows are covered", seed, left, n), rows, db, seed)
			if _, err := db.CheckBlocks(context.Background()); err != nil {
				t.Error(err)
			}
			first, last, m, err := db.coveredAfter(0)
			if err != nil || m != left {
				t.Fatalf("%d rows are covered, want %d, %v", m, left, err)
			}
			if part := first + max(1, (last-first)/2); m > 10 {
				last = part
				if err := db.reader.QueryRow("SELECT count(*) FROM readings r WHERE seq BETWEEN ? AND ? AND "+covered, first, last).Scan(&m); err != nil {
					t.Fatal(err)
				}
			}
			update(t, db, func(tx *Tx) error { return tx.takeAway(first, last, m) })
			left -= m
		}
	}
	t.Logf("looked %d times", looks)
	if looks < 10 {
		t.Error("that shows little")
	}
}

func copied(t *testing.T, path string) string {
	t.Helper()
	whole, to := must[[]byte](t)(os.ReadFile(path)), newPath(t)
	if err := os.WriteFile(to, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	return to
}

// A covered row that is not as it is in the block is found, and one that is in none.
func TestCoveredRowsAreCompared(t *testing.T) {
	_, path := sealedLog(t, 7)
	db := open(t, path)
	coverAll(t, db)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, change string }{
		{"another value", "UPDATE readings SET value = coalesce(value, 0) + 0.5 WHERE seq = (SELECT min(seq) FROM readings)"},
		{"another time", "UPDATE readings SET received = received + 1 WHERE seq = (SELECT min(seq) FROM readings)"},
		{"another number", "UPDATE readings SET seq = -5 WHERE seq = (SELECT min(r.seq) FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq WHERE m.seq IS NULL)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := open(t, copied(t, path))
			if _, err := db.writer.Exec("DROP TRIGGER readings_no_update; " + c.change); err != nil {
				t.Fatal(err)
			}
			if _, err := db.CheckBlocks(context.Background()); err == nil || !strings.Contains(err.Error(), "not as it is in there") {
				t.Errorf("it is not found: %v", err)
			}
		})
	}
}

// A block that goes by the rule of the owner takes the rows with it that it covers.
func TestWhatIsRemovedDoesNotComeBackAsRows(t *testing.T) {
	_, path := sealedLog(t, 9)
	db := open(t, path)
	before, n := must[int64](t)(db.CountReadings()), coverAll(t, db)
	rule := KeepRule{Before: noon.Add(100 * 365 * 24 * time.Hour), Words: "keep_readings"}
	removed := int64(0)
	for {
		due := must[[]Due](t)(db.Due(rule))
		if len(due) == 0 {
			break
		}
		removed += must[evidence.Removal](t)(db.Remove(context.Background(), due[0], rule, noon)).Rows
		if left := must[int64](t)(db.CountReadings()); left != before-removed {
			t.Fatalf("%d readings are left of %d, and %d were removed", left, before, removed)
		}
	}
	if removed == 0 || removed > int64(n) {
		t.Errorf("%d readings were removed, %d were in blocks", removed, n)
	}
	if err := db.CheckRemoved(); err != nil {
		t.Error(err)
	}
}

// Who goes on until nothing is due leaves of each probe less than a block, however often rows were taken
// away on the way.
func TestNothingDueIsLeft(t *testing.T) {
	_, path := sealedLog(t, 11)
	db := open(t, path)
	const from = 4
	taken, covered := 0, 0
	for p := db.NewPacker(from); ; {
		done, more, err := p.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if taken += done.Taken; done.Taken > 0 && taken < covered {
			t.Errorf("%d rows are taken away of %d covered ones", taken, covered)
		}
		if covered += done.Readings; !more {
			break
		}
	}
	var left int
	if err := db.reader.QueryRow("SELECT coalesce(max(n), 0) FROM (SELECT count(*) AS n FROM readings GROUP BY probe)").Scan(&left); err != nil {
		t.Fatal(err)
	}
	if left >= from || covered < 2*takeFrom*from || taken != covered {
		t.Errorf("%d rows are left of a probe, %d were covered, %d taken away", left, covered, taken)
	}
}

// The newest believed time is found however many small blocks without one lie before it, and not
// beyond so many readings.
func TestTheNewestDeviceTimeLiesManyBlocksBack(t *testing.T) {
	for _, c := range []struct {
		silent int // readings without a time of the device, the newest
		found  bool
	}{{0, true}, {1, true}, {200, true}, {deviceLookBack - 1, true}, {deviceLookBack, false}, {deviceLookBack + 40, false}} {
		db := newDB(t)
		commit(t, db, plain("alder", 1), plain("alder", 2))
		for i := 0; i < c.silent; i += 20 { // sealed and packed each time: a block of twenty
			var some []process.Reading
			for j := i; j < min(i+20, c.silent); j++ {
				at := noon.Add(time.Duration(100+j) * time.Second)
				some = append(some, process.Reading{Probe: "alder", Measured: at, Received: at})
			}
			commit(t, db, some...)
			seal(t, db, 1000)
			packSome(t, db, 1, 100)
		}
		blocks := 0
		if err := db.reader.QueryRow("SELECT count(*) FROM blocks").Scan(&blocks); err != nil || blocks < c.silent/20 {
			t.Fatalf("%d blocks, %v", blocks, err)
		}
		got := must[map[string]time.Time](t)(db.NewestDeviceTimes())
		if at, found := got["alder"]; found != c.found || found && !at.Equal(plain("alder", 2).Measured) {
			t.Errorf("%d readings without a time in %d blocks: %v, %v, want %v", c.silent, blocks, at, found, c.found)
		}
	}
}

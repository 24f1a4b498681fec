package store

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"
)

// The packing victim is this test binary, started again with these in its environment.
const (
	victimPacks = "FLITCH_TEST_VICTIM_PACKS" // path
	victimParts = "FLITCH_TEST_VICTIM_PARTS" // control: takes rows away before it writes the block
	packKills   = "FLITCH_TEST_PACK_KILLS"   // how many, if not 12
)

// packVictim packs until it is killed or done, and prints a line before each step.
func packVictim(path string) {
	db, err := Open(path)
	if err == nil {
		fmt.Println("begins")
		if os.Getenv(victimParts) != "" {
			err = packInParts(db)
		}
		for p := db.NewPacker(8); err == nil; {
			var more bool
			fmt.Println("step")
			if _, more, err = p.Next(context.Background()); !more {
				break
			}
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// packInParts is the mistake: the rows go in one transaction, and the block comes in another.
func packInParts(db *DB) error {
	_, err := db.writer.Exec("DROP TRIGGER readings_no_delete; DROP TRIGGER reading_marks_no_delete; DELETE FROM readings WHERE seq < 400")
	fmt.Println("in between")
	time.Sleep(time.Minute) // until it is killed
	return err
}

// sealedLog is the same sealed log in two databases.
func sealedLog(t *testing.T, seed uint64) (rows *DB, packed string) {
	t.Helper()
	s := &storm{Rand: rand.New(rand.NewPCG(seed, 4)), clock: noon}
	rows, packed = newDB(t), newPath(t)
	mixed := open(t, packed)
	for range 60 {
		s.step(t, rows, mixed)
		seal(t, rows, 30)
		seal(t, mixed, 30)
	}
	for _, db := range []*DB{rows, mixed} { // a number that only a duplicate took is not known after a start
		commit(t, db, plain("probe-0", 1_000_000))
		seal(t, db, 30)
	}
	if err := mixed.Close(); err != nil {
		t.Fatal(err)
	}
	return rows, packed
}

// A process that packs is killed at any moment: each reading is a row or in a block, once.
func TestKilledPackingLosesNothing(t *testing.T) {
	kills := 12
	if n, err := strconv.Atoi(os.Getenv(packKills)); err == nil {
		kills = n
	}
	chance := rand.New(rand.NewPCG(8, 26))
	var rows *DB
	var path string
	halves := 0
	for kill := range kills {
		if kill%4 == 0 { // packed to the end by then, or nearly
			rows, path = sealedLog(t, uint64(kill))
		}
		killPacking(t, path, 1+chance.IntN(25), time.Duration(chance.IntN(4_000))*time.Microsecond)
		db := open(t, path)
		var left, blocks int
		if err := db.reader.QueryRow("SELECT (SELECT count(*) FROM readings), (SELECT count(*) FROM blocks)").Scan(&left, &blocks); err != nil {
			t.Fatal(err)
		}
		if left > 0 && blocks > 0 {
			halves++
		}
		compare(t, fmt.Sprintf("kill %d, %d blocks, %d rows", kill, blocks, left), rows, db, uint64(kill))
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d kills, %d in the middle of a log", kills, halves)
	if kills == 0 || halves < kills/4 {
		t.Errorf("%d of %d kills were in the middle of a log: they show little", halves, kills)
	}
}

// The control: rows that go before their block comes are missed.
func TestThePackingHarnessSeesALoss(t *testing.T) {
	rows, path := sealedLog(t, 3)
	killPacking(t, path, 1, 0, victimParts+"=1")
	db := open(t, path)
	if n := must[int64](t)(db.CountReadings()); n >= must[int64](t)(rows.CountReadings()) {
		t.Errorf("%d readings are left: nothing was lost, and the harness shows nothing", n)
	}
}

// killPacking kills it a time after it began a step, or said that it makes the mistake.
func killPacking(t *testing.T, path string, step int, after time.Duration, more ...string) {
	t.Helper()
	killedAfter(t, append(more, victimPacks+"="+path), 1+step, after)
}

// Whatever statement fails, at whatever row: all of the transaction is undone, and what was to be
// done is done by the next call.
func TestPackingFailsAsAWhole(t *testing.T) {
	rows, path := sealedLog(t, 5)
	faults := 0
	for _, trap := range []string{
		"BEFORE INSERT ON blocks", "AFTER INSERT ON blocks",
		"BEFORE DELETE ON reading_marks WHEN OLD.seq % 7 = 0", "AFTER DELETE ON reading_marks WHEN OLD.seq % 3 = 0",
		"BEFORE DELETE ON readings", "BEFORE DELETE ON readings WHEN OLD.seq % 11 = 5", "AFTER DELETE ON readings WHEN OLD.seq % 5 = 4",
	} {
		db := open(t, copied(t, path))
		if _, err := db.writer.Exec("CREATE TRIGGER trap " + trap + " BEGIN SELECT RAISE (ABORT, 'trap'); END"); err != nil {
			t.Fatal(err)
		}
		for range 3 {
			if err := packAll(db.NewPacker(40)); err != nil {
				faults++
			}
		}
		compare(t, trap, rows, db, 5)
		if _, err := db.writer.Exec("DROP TRIGGER trap"); err != nil {
			t.Fatal(err)
		}
		if err := packAll(db.NewPacker(40)); err != nil {
			t.Error(err)
		}
		compare(t, "after "+trap, rows, db, 5)
	}
	t.Logf("%d faults", faults)
	if faults != 3*7 {
		t.Errorf("%d faults, want three for each trap", faults)
	}
}

// packAll goes on until nothing is due or something fails.
func packAll(p *Packer) error {
	for {
		if _, more, err := p.Next(context.Background()); err != nil || !more {
			return err
		}
	}
}

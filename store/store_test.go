package store

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"flitch/process"
)

// noon is an instant for tests. The place and the probes are invented.
var noon = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// newPath returns the path of a new database.
func newPath(t testing.TB) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "flitch.db")
	if err := Create(path); err != nil {
		t.Fatal(err)
	}
	return path
}

func open(t testing.TB, path string) *DB {
	t.Helper()
	db, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return db
}

func newDB(t testing.TB) *DB {
	t.Helper()
	return open(t, newPath(t))
}

// raw opens path with the driver alone, as a stranger would.
func raw(t testing.TB, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// plain is a good reading of probe, i seconds after noon, with a device time.
func plain(probe string, i int) process.Reading {
	at := noon.Add(time.Duration(i) * time.Second)
	return process.Reading{Probe: probe, Measured: at, Device: at, Received: at.Add(40 * time.Millisecond), Value: 4 + float64(i)/1000}
}

// plains are n of them, over 12 probes.
func plains(from, n int) []process.Reading {
	out := make([]process.Reading, n)
	for i := range out {
		out[i] = plain(fmt.Sprintf("probe-%d", (from+i)%12), from+i)
	}
	return out
}

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func commit(t testing.TB, db *DB, readings ...process.Reading) Committed {
	t.Helper()
	return must[Committed](t)(db.CommitIntake(readings, nil))
}

func update(t testing.TB, db *DB, fn func(*Tx) error) {
	t.Helper()
	if err := db.Update(fn); err != nil {
		t.Fatal(err)
	}
}

func inputs(t testing.TB, db *DB) []process.Input {
	t.Helper()
	return must[[]process.Input](t)(db.NextInputs(0, 1<<20))
}

// TestMain is the victim of the kill test when the parent asks for it.
func TestMain(m *testing.M) {
	if path := os.Getenv(victimPath); path != "" {
		victim(path)
	}
	if path := os.Getenv(victimPacks); path != "" {
		packVictim(path)
	}
	os.Exit(m.Run())
}

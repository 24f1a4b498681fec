package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// BenchmarkIntake compares CommitIntake with the driver used directly: the same
// table, the same settings, the same number of readings in a transaction, prepared
// multi-row INSERT OR IGNORE of 64 rows. What counts is ours/raw in one run; the
// rates themselves belong to the machine.
func BenchmarkIntake(b *testing.B) {
	for _, group := range []int{1, 12, 100, 1000, 10_000} {
		b.Run(fmt.Sprintf("ours/%d", group), func(b *testing.B) {
			db := newDB(b)
			runIntake(b, group, func(readings []process.Reading) error {
				_, err := db.CommitIntake(readings, nil)
				return err
			})
		})
		b.Run(fmt.Sprintf("raw/%d", group), func(b *testing.B) {
			runIntake(b, group, rawIntake(b, group))
		})
	}
}

// runIntake stores b.N groups of readings of 12 probes, five seconds apart.
func runIntake(b *testing.B, size int, store func([]process.Reading) error) {
	readings := make([]process.Reading, size)
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		for i := range readings {
			at := noon.Add(time.Duration(n/12) * 5 * time.Second)
			readings[i] = process.Reading{Probe: probeNames[n%12], Measured: at, Device: at, Received: at.Add(40 * time.Millisecond), Value: 4.25}
			n++
		}
		if err := store(readings); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "rows/s")
}

var probeNames = strings.Fields("p-0 p-1 p-2 p-3 p-4 p-5 p-6 p-7 p-8 p-9 p-10 p-11")

// rawIntake is what one would write with the driver and no more: the probe is a
// number already, no quality, no counts.
func rawIntake(b *testing.B, group int) func([]process.Reading) error {
	path := newPath(b)
	w := must[*sql.DB](b)(openWriter(path))
	b.Cleanup(func() { w.Close() })
	ids := map[string]int64{}
	for i, name := range probeNames {
		ids[name] = int64(i + 1)
		if _, err := w.Exec("INSERT INTO probes (id, name) VALUES (?, ?)", i+1, name); err != nil {
			b.Fatal(err)
		}
	}
	const rows = 64
	prepare := func(n int) *sql.Stmt {
		values := strings.TrimSuffix(strings.Repeat("(?,?,?,?,?),", n), ",")
		return must[*sql.Stmt](b)(w.Prepare("INSERT OR IGNORE INTO readings (seq, probe, measured, value, received) VALUES " + values))
	}
	insert := map[int]*sql.Stmt{rows: prepare(rows)}
	if rest := group % rows; rest != 0 { // the writer has one connection: not inside the transaction
		insert[rest] = prepare(rest)
	}
	args, seq := make([]any, 0, rows*5), int64(0)
	return func(readings []process.Reading) error {
		tx, err := w.BeginTx(context.Background(), nil)
		if err != nil {
			return err
		}
		defer tx.Rollback()
		for len(readings) > 0 {
			n := min(rows, len(readings))
			args = args[:0]
			for _, r := range readings[:n] {
				seq++
				args = append(args, seq, ids[r.Probe], r.Measured.UnixMilli(), r.Value, r.Received.UnixMilli())
			}
			if _, err := tx.Stmt(insert[n]).Exec(args...); err != nil {
				return err
			}
			readings = readings[n:]
		}
		return tx.Commit()
	}
}

// BenchmarkReadWeek reads 7 days of 5 s of one probe out of twelve.
func BenchmarkReadWeek(b *testing.B) {
	db := newDB(b)
	const week = 7 * 24 * 720
	readings := make([]process.Reading, 0, 12_000)
	for i := range week * 2 {
		at := noon.Add(time.Duration(i/2) * 5 * time.Second)
		readings = append(readings, process.Reading{Probe: probeNames[i%2], Measured: at, Device: at, Received: at.Add(time.Second), Value: 4})
		if len(readings) == cap(readings) || i == week*2-1 {
			commit(b, db, readings...)
			readings = readings[:0]
		}
	}
	for b.Loop() {
		n := 0
		err := db.EachReading(probeNames[:1], time.Time{}, time.Time{}, func(int64, process.Reading) error { n++; return nil })
		if err != nil || n != week {
			b.Fatal(n, err)
		}
	}
}

// BenchmarkNextInputs reads the log in pages of 1000, as the engine does.
func BenchmarkNextInputs(b *testing.B) {
	db := newDB(b)
	commit(b, db, plains(0, 10_000)...)
	for b.Loop() {
		if got := must[[]process.Input](b)(db.NextInputs(5000, 1000)); len(got) != 1000 {
			b.Fatal(len(got))
		}
	}
}

package store

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"flitch/process"
)

// shed puts in what twelve probes of a shed send: every five seconds, some milliseconds of
// jitter on the way, waves of a compressor and noise, half of them in steps of 0.1 °C and half in
// those of 0.0625; and a seal each ten minutes.
func shed(t testing.TB, db *DB, span time.Duration) (n int) {
	t.Helper()
	chance := rand.New(rand.NewPCG(5, 12))
	group := make([]process.Reading, 0, 12*120)
	for i := range int(span / (5 * time.Second)) {
		for probe, name := range probeNames {
			at := noon.Add(time.Duration(i)*5*time.Second + time.Duration(probe*311)*time.Millisecond + time.Duration(chance.NormFloat64()*8e6)).Truncate(time.Millisecond)
			value := 3.4 + 1.2*math.Sin(float64(i)/(200+10*float64(probe))) + 0.06*chance.NormFloat64()
			r := process.Reading{Probe: name, Measured: at, Device: at, Received: at.Add(time.Duration(9+chance.IntN(20)) * time.Millisecond), Value: math.Round(value*10) / 10}
			if probe%2 == 1 {
				r.Value = math.Round(value*16) / 16
			}
			group = append(group, r)
		}
		if len(group) == cap(group) {
			slices.SortFunc(group, func(a, b process.Reading) int { return a.Received.Compare(b.Received) })
			n += commit(t, db, group...).Stored
			seal(t, db, 50_000)
			group = group[:0]
		}
	}
	return n
}

// pagesOf is how many bytes the tables take with their indexes: what becomes free when they are
// dropped from a copy.
func pagesOf(t testing.TB, path string, tables ...string) int64 {
	t.Helper()
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "copy.db")
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	db := raw(t, path)
	db.SetMaxOpenConns(1)
	var before, after, size int64
	for _, at := range []*int64{&before, &after} {
		if err := db.QueryRow("SELECT (SELECT freelist_count FROM pragma_freelist_count), (SELECT page_size FROM pragma_page_size)").Scan(at, &size); err != nil {
			t.Fatal(err)
		}
		for _, table := range tables {
			if _, err := db.Exec("DROP TABLE IF EXISTS " + table); err != nil {
				t.Fatal(err)
			}
		}
	}
	return (after - before) * size
}

// BenchmarkPack prints what a reading takes as a row and in a block, how fast rows become blocks, and
// how long a week of one probe takes to read from either, in one run.
func BenchmarkPack(b *testing.B) {
	path := newPath(b)
	db := open(b, path)
	n := shed(b, db, 7*24*time.Hour+4*time.Hour)
	closed := func() {
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
	}
	closed()
	asRows := float64(pagesOf(b, path, "reading_marks", "readings")) / float64(n)
	db = open(b, path)
	rowWeek := week(b, db)
	for b.Loop() {
		began, most, count := time.Now(), time.Duration(0), 0
		at := began
		err := db.PackAll(context.Background(), func(p Packed) {
			most, at, count = max(most, time.Since(at)), time.Now(), count+p.Readings
		})
		if err != nil {
			b.Fatal(err)
		}
		fmt.Printf("bench pack_rows %.0f rows/s 20000 %.1f\n", float64(count)/time.Since(began).Seconds(), float64(count)/time.Since(began).Seconds()/20_000)
		fmt.Printf("bench pack_step_worst %.1f ms 500 %.2f\n", most.Seconds()*1e3, most.Seconds()*1e3/500)
		var left int
		if err := db.reader.QueryRow("SELECT count(*) FROM readings").Scan(&left); err != nil {
			b.Fatal(err)
		}
		if left+count != n || count < n*9/10 {
			b.Fatal(left, count, n)
		}
		blockWeek := week(b, db)
		closed()
		inBlocks := float64(pagesOf(b, path, "blocks")) / float64(count)
		fmt.Printf("bench bytes_a_reading_rows %.1f bytes 25 %.2f\n", asRows, asRows/25) // 25: what the design took a row for
		fmt.Printf("bench bytes_a_reading_blocks %.2f bytes 4 %.2f\n", inBlocks, inBlocks/4)
		fmt.Printf("bench read_week_blocks %.1f ms %.1f %.2f\n", blockWeek, rowWeek, blockWeek/rowWeek)
		db = open(b, path)
	}
}

// week is the median of reading seven days of one probe, ms.
func week(b *testing.B, db *DB) float64 {
	b.Helper()
	var all []float64
	for range 9 {
		began, n := time.Now(), 0
		err := db.EachReading(probeNames[3:4], noon, noon.Add(7*24*time.Hour), func(int64, process.Reading) error { n++; return nil })
		if err != nil || n < 7*24*720-3 {
			b.Fatal(n, err)
		}
		all = append(all, time.Since(began).Seconds()*1e3)
	}
	slices.Sort(all)
	return all[len(all)/2]
}

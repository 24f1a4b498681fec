package fleet

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"flitch/process"
	"flitch/process/evidence"
)

// weeks are the readings of some weeks without internet: 12 probes, every 30 s, four weeks.
func weeks(b *testing.B) int {
	text := os.Getenv("FLITCH_FLEET_ROWS")
	if text == "" {
		return 1_000_000
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1000 {
		b.Fatalf("FLITCH_FLEET_ROWS=%q is no number of rows", text)
	}
	return n
}

// A million readings that waited for the internet go up; beside it the same readings by a bare
// COPY of the library, from memory, into a table with the same keys.
func BenchmarkCatchUp(b *testing.B) {
	h, s, n := newHouse(b), newShed(b), weeks(b)
	for left := n; left > 0; left -= 10_000 {
		list := make([]process.Reading, 0, 10_000)
		for range min(left, 10_000) {
			list = append(list, s.reading())
		}
		if _, err := s.db.CommitIntake(list, nil); err != nil {
			b.Fatal(err)
		}
		s.seal()
	}
	h.Do(h.database, "CREATE TABLE bare (LIKE flitch.readings INCLUDING ALL)")
	for b.Loop() {
		bare := bareCopy(b, h, s)
		sink := s.sink(h.address(h.writer()), fmt.Sprintf("larder %d", b.N))
		began := time.Now()
		if err := turn(sink); err != nil {
			b.Fatal(err)
		}
		ours := float64(n) / time.Since(began).Seconds()
		if bad := h.differs(s, sink.o.Site, true); n <= 1_000_000 && bad != "" {
			b.Fatal(bad)
		}
		fmt.Printf("bench fleet_catch_up %.0f rows/s %.0f %.2f\n", ours, bare, ours/bare)
	}
}

func bareCopy(b *testing.B, h *house, s *shed) (perSecond float64) {
	b.Helper()
	var rows [][]any
	s.must(s.db.EachRow(context.Background(), 1, s.db.LastSeq(), func(r *evidence.Row) error { rows = append(rows, reading(1, r)); return nil }))
	ctx := context.Background()
	conn, err := h.address("owner").connect(ctx)
	if err != nil {
		b.Fatal(err)
	}
	defer hangUp(conn)
	began := time.Now()
	if n, err := conn.CopyFrom(ctx, pgx.Identifier{"bare"}, columns["readings"], pgx.CopyFromRows(rows)); err != nil || int(n) != len(rows) {
		b.Fatal(n, err)
	}
	perSecond = float64(len(rows)) / time.Since(began).Seconds()
	if _, err := conn.Exec(ctx, "TRUNCATE bare"); err != nil {
		b.Fatal(err)
	}
	return perSecond
}

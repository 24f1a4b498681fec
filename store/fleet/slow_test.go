package fleet

import (
	"bytes"
	"context"
	"io"
	"sync/atomic"
	"testing"
	"time"

	"flitch/store"
	"flitch/store/fleet/fleettest"
)

// hangs is one turn through a line on which nothing arrives from a question on that has these
// words in it. It has to end by its own deadline: the test's is far behind that.
func (h *house) hangs(s *shed, words string, proof func(context.Context, string, io.Writer) error) error {
	h.t.Helper()
	cutter, hung := fleettest.NewCutter(h.t, h.Addr(), nil), atomic.Bool{}
	cutter.Hang = func(_ byte, body []byte) bool {
		if bytes.Contains(body, []byte(words)) {
			hung.Store(true)
		}
		return hung.Load()
	}
	sink := s.sink(h.parse(h.URLThrough(cutter, h.writer(), h.database)), "larder")
	sink.o.Proof, sink.within = proof, 3*time.Second
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	err := sink.turn(ctx)
	hangUp(sink.conn)
	if ctx.Err() != nil || !hung.Load() {
		h.t.Errorf("the turn did not end by itself (%v), or nothing hung (%v)", ctx.Err(), hung.Load())
	}
	return err
}

// A server that takes what is sent and says nothing, while the line stands, is out of reach,
// whatever it was asked last.
func TestAServerThatHangsIsOutOfReach(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	s.work(500)
	wantTrouble(t, h.hangs(s, "pg_tables", nil), Unreachable, "in time")

	s.closed("LD-01")
	proof := func(context.Context, string, io.Writer) error { t.Error("a proof was made"); return nil }
	wantTrouble(t, h.hangs(s, "FROM flitch.records", proof), Unreachable, "in time")
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
}

// closed is a batch that has ended and whose last word is sealed.
func (s *shed) closed(id string) {
	s.t.Helper()
	begun := s.begin(id)
	s.must(s.db.Update(func(tx *store.Tx) error {
		return tx.SaveBatch(store.BatchRow{ID: id, Status: "closed", Started: noon, Cursor: begun, State: []byte("{}")})
	}))
	s.seal()
}

// A proof that never gets through before the deadline stays at the site, and the record is there.
func TestASlowLineGetsTheRecordWithoutTheProof(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	s.work(500)
	s.closed("LD-01")
	cutter := fleettest.NewCutter(t, h.Addr(), nil)
	cutter.Hang = func(kind byte, body []byte) bool { return kind == 'B' && len(body) > 100_000 }
	sink := s.sink(h.parse(h.URLThrough(cutter, h.writer(), h.database)), "larder")
	sink.within = 2 * time.Second
	sink.o.Proof = func(_ context.Context, _ string, w io.Writer) error {
		_, err := w.Write(append([]byte("record {\"piece\":1}\n"), bytes.Repeat([]byte("#"), 200_000)...))
		return err
	}
	for range proofTries {
		wantTrouble(t, turn(sink), Unreachable)
	}
	for range 2 { // and it is not sent twice
		if err := turn(sink); err != nil {
			t.Fatal(err)
		}
	}
	site := h.read("larder")
	defer site.in.Close()
	papers, err := site.Papers(t.Context())
	if err != nil || len(papers) != 1 {
		t.Fatalf("the records are %+v, %v", papers, err)
	}
	record, proof, err := site.Paper(t.Context(), papers[0])
	if err != nil || !bytes.Contains(record, []byte("piece")) || len(proof) != 0 {
		t.Errorf("the record is %s, and %d bytes of proof are there, %v", record, len(proof), err)
	}
}

// On a line that lets through no more than some hundred rows before the deadline all arrives: in
// smaller pieces, which grow again where the line is better.
func TestASlowLineGetsSmallerPieces(t *testing.T) {
	h, s := newHouse(t), newShed(t)
	s.work(10_500)
	const most = 400_000 // bytes in a COPY; ten thousand rows are more
	var copied atomic.Int64
	var slow atomic.Bool
	slow.Store(true)
	cutter := fleettest.NewCutter(t, h.Addr(), nil)
	cutter.Hang = func(kind byte, body []byte) bool {
		if kind != 'd' {
			copied.Store(0)
			return false
		}
		copied.Add(int64(len(body)))
		return slow.Load() && copied.Load() > most
	}
	sink := s.sink(h.parse(h.URLThrough(cutter, h.writer(), h.database)), "larder")
	sink.within = 2 * time.Second
	failed := 0
	for err := turn(sink); err != nil; err = turn(sink) {
		wantTrouble(t, err, Unreachable)
		if failed++; failed > 10 {
			t.Fatalf("it does not get through: pieces of %d rows", sink.rows)
		}
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
	if failed == 0 {
		t.Error("no turn failed: the line was not slow")
	}
	slow.Store(false)
	sink.within = turnWithin
	s.work(45_000) // more than it takes from the smallest on
	if err := turn(sink); err != nil {
		t.Fatal(err)
	}
	if sink.rows != pieceRows {
		t.Errorf("on a good line pieces are still of %d rows", sink.rows)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
}

// Pieces are never so small that nothing goes, grow only where one was full and quick, and what
// is wrong for another reason leaves them.
func TestTheSizeOfAPiece(t *testing.T) {
	full := func(rows int) *piece { return &piece{ticks: make([][]any, rows)} }
	late := trouble(Unreachable, "", "late")
	s := New(nil, Options{})
	for _, c := range []struct {
		rows, of int
		took     time.Duration
		err      error
		want     int
	}{
		{10_000, 10_000, turnWithin, late, 5_000},
		{5_000, 700, turnWithin, late, 2_500},
		{150, 150, turnWithin, late, 100},
		{100, 100, turnWithin, late, 100},
		{100, 100, time.Second, nil, 200},
		{100, 99, time.Second, nil, 100},
		{100, 100, turnWithin / 2, nil, 100},
		{8_000, 8_000, time.Second, nil, 10_000},
		{8_000, 8_000, time.Second, trouble(Room, "", "full"), 8_000},
	} {
		s.rows, s.quick = c.rows, growAfter-1
		if s.resize(full(c.of), c.took, c.err); s.rows != c.want {
			t.Errorf("%+v: pieces of %d rows", c, s.rows)
		}
	}
	s.rows, s.quick = leastRows, 0
	for n := range growAfter { // one quick piece shows nothing yet
		if s.rows != leastRows {
			t.Errorf("after %d quick pieces they are of %d rows", n, s.rows)
		}
		s.resize(full(leastRows), time.Second, nil)
	}
	if s.rows != 2*leastRows {
		t.Errorf("after %d quick pieces they are of %d rows", growAfter, s.rows)
	}
}

// On the slowest line a piece has lines of the journal too.
func TestTheLeastPieceHasLines(t *testing.T) {
	s := newShed(t)
	s.work(3_000)
	p, err := take(context.Background(), s.db, mark{}, leastRows)
	if err != nil || p.rows() != leastRows || len(p.lines) == 0 || len(p.lines) > leastRows/rowsPerLine {
		t.Errorf("%d rows, %d lines, %v", p.rows(), len(p.lines), err)
	}
}

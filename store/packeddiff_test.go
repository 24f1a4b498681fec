package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/evidence"
)

// seal puts a seal, unsigned, over all that came in, in parts of so many rows.
func seal(t testing.TB, db *DB, rows int) {
	t.Helper()
	last, _, err := db.LastSeal()
	if err != nil {
		t.Fatal(err)
	}
	for from := last.Seal.To + 1; ; {
		var s evidence.Sealer
		to := must[int64](t)(db.EachNext(context.Background(), from-1, rows, func(r *evidence.Row) error { s.Take(r); return nil }))
		if to == 0 {
			return
		}
		update(t, db, func(tx *Tx) error {
			_, err := tx.AppendSigned(process.JournalLine{At: noon, Kind: evidence.SealKind, By: "flitch", Text: s.Seal(from, to).Text()}, nil)
			return err
		})
		from = to + 1
	}
}

// packSome makes blocks of at least from readings, and takes rows away, at most so many times.
func packSome(t testing.TB, db *DB, from, most int) (blocks int) {
	t.Helper()
	p := db.NewPacker(from)
	for range most {
		done, more, err := p.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if !more {
			break
		}
		if done.Readings > 0 {
			blocks++
		}
	}
	return blocks
}

// A storm is a log by chance: late, twice, out of order, imported, marked, without a value.
type storm struct {
	*rand.Rand
	clock time.Time
	sent  []process.Reading
	n     int
}

func (s *storm) reading() process.Reading {
	probe := fmt.Sprintf("probe-%d", s.IntN(5))
	at := s.clock.Add(time.Duration(s.IntN(5000)) * time.Millisecond)
	r := process.Reading{Probe: probe, Measured: at, Device: at, Received: at.Add(time.Duration(s.IntN(900)) * time.Millisecond), Value: math.Round(40+30*s.NormFloat64()) / 10}
	switch s.IntN(14) {
	case 0: // late, from any time before
		r.Measured = at.Add(-time.Duration(s.IntN(1+int(at.Sub(noon).Milliseconds()))) * time.Millisecond)
		r.Device, r.Received = r.Measured, at
		r.Quality, r.Reason = process.Suspect, "late"
	case 1: // no time of its own
		r.Measured, r.Received, r.Device = at, at, time.Time{}
	case 2:
		r.Value, r.Quality, r.Reason, r.Raw = math.NaN(), process.Bad, "sentinel", "-127\x00\xff"
	case 3: // imported
		r.Measured = at.Add(-time.Duration(s.IntN(3600)) * time.Second)
		r.Device, r.Received, r.Quality, r.Reason = r.Measured, at, process.Suspect, "imported: logger.csv"
	case 4: // the clock of the device was not believed
		r.Device = time.Unix(9, 0).UTC()
	case 5:
		r.Value = [...]float64{math.Inf(1), math.Copysign(0, -1), 0.1 + 0.2, 85, (71.3 - 32) / 1.8}[s.IntN(5)]
	case 6: // stamped before what is in front of it
		r.Received = at.Add(-time.Minute)
	}
	return r
}

// step does the same to all databases.
func (s *storm) step(t testing.TB, dbs ...*DB) {
	t.Helper()
	s.clock = s.clock.Add(time.Duration(s.IntN(20)) * time.Second)
	group := make([]process.Reading, 1+s.IntN(70))
	for i := range group {
		if group[i] = s.reading(); len(s.sent) > 0 && s.IntN(6) == 0 { // came before
			group[i] = s.sent[s.IntN(len(s.sent))]
		}
	}
	if s.IntN(15) == 0 && len(s.sent) > len(group) { // nothing but what came before
		copy(group, s.sent[s.IntN(len(s.sent)-len(group)):])
	}
	s.sent = append(s.sent, group...)
	s.n++
	kind := s.IntN(10)
	var first Committed
	for i, db := range dbs {
		done := commit(t, db, group...)
		if i == 0 {
			first = done
		} else if done != first {
			t.Fatalf("group %d: %+v, and without blocks %+v", s.n, done, first)
		}
		update(t, db, func(tx *Tx) (err error) {
			switch kind {
			case 0:
				_, _, err = tx.AppendCommand(process.Command{ID: fmt.Sprint("c", s.n), Kind: process.CommandNote, Batch: "B", At: s.clock}, s.clock)
			case 1:
				_, err = tx.AppendTick(s.clock)
			}
			return err
		})
	}
}

// answers is what every method says that reads readings.
func answers(t testing.TB, db *DB, r *rand.Rand) (out []string) {
	t.Helper()
	say := func(what string, v any, err error) {
		text := fmt.Sprintf("%v", v)
		if b, err := json.Marshal(v); err == nil {
			text = string(b)
		}
		out = append(out, fmt.Sprintf("%s: %s %v", what, text, err))
	}
	last := db.LastSeq()
	probes := []string{"probe-3", "probe-0", "probe-4", "nobody", "probe-0"}
	for range 12 {
		from, span := noon.Add(time.Duration(r.IntN(4000)-600)*time.Second), time.Duration(r.IntN(1500))*time.Second
		to := from.Add(span)
		if r.IntN(4) == 0 {
			to = time.Time{}
		}
		var got []string
		err := db.EachReading(probes[:1+r.IntN(5)], from, to, func(seq int64, m process.Reading) error {
			got = append(got, fmt.Sprint(seq, m))
			return nil
		})
		say(fmt.Sprint("readings from ", from), got, err)
		after, limit := r.Int64N(last+2)-1, 1+r.IntN(400)
		inputs, err := db.NextInputs(after, limit)
		say("inputs", fmt.Sprint(inputs), err)
		got = nil
		end, err := db.EachNext(context.Background(), after, limit, func(e *evidence.Row) error { got = append(got, string(e.Append(nil))); return nil })
		say("next rows", fmt.Sprint(end, got), err)
		n, err := db.CountRows(after)
		say("rows", n, err)
		got = nil
		err = db.EachReadingAfter(after, func(seq int64, m process.Reading) error { got = append(got, fmt.Sprint(seq, m)); return nil })
		say("newer", got, err)
		got = nil
		err = db.EachRow(context.Background(), after, after+int64(limit), func(e *evidence.Row) error { got = append(got, string(e.Append(nil))); return nil })
		say("log", got, err)
		at := noon.Add(time.Duration(r.IntN(4_000_000)) * time.Millisecond)
		has, err := db.HasReading("probe-1", at)
		say("has", has, err)
	}
	latest, err := db.LatestReadings()
	say("latest", fmt.Sprint(latest), err)
	times, err := db.NewestDeviceTimes()
	say("device times", times, err)
	newest, err := db.NewestReading()
	say("newest", newest, err)
	n, err := db.CountReadings()
	say("readings", n, err)
	counts, err := db.Counts()
	say("counts", counts, err)
	seals, err := db.Seals()
	say("seals", seals, err)
	say("last", last, db.VerifyJournal())
	return out
}

// The same log in two databases, of which one is packed at any moments and opened anew now and
// then: every method gives the same answers, every number is the same, every seal too.
func TestBlocksAnswerLikeRows(t *testing.T) {
	logs, blocks, packed := 0, 0, int64(0)
	for seed := range uint64(8) {
		s := &storm{Rand: rand.New(rand.NewPCG(seed, 9)), clock: noon}
		paths := [2]string{newPath(t), newPath(t)}
		rows, mixed := open(t, paths[0]), open(t, paths[1])
		for range 10 + s.IntN(70) {
			s.step(t, rows, mixed)
			if s.IntN(4) == 0 {
				part := 20 + s.IntN(200)
				seal(t, rows, part)
				seal(t, mixed, part)
			}
			if s.IntN(3) == 0 {
				blocks += packSome(t, mixed, 2+s.IntN(60), 1+s.IntN(9))
			}
			if s.IntN(20) == 0 {
				if err := errors.Join(rows.Close(), mixed.Close()); err != nil {
					t.Fatal(err)
				}
				rows, mixed = open(t, paths[0]), open(t, paths[1])
			}
		}
		compare(t, fmt.Sprint("log ", seed), rows, mixed, seed)
		var in int64
		if err := mixed.reader.QueryRow("SELECT coalesce(sum(n), 0) FROM blocks").Scan(&in); err != nil {
			t.Fatal(err)
		}
		packed += in
		logs++
	}
	t.Logf("%d logs, %d blocks of %d readings", logs, blocks, packed)
	if blocks < 100 || packed < 3_000 {
		t.Errorf("%d blocks of %d readings show little", blocks, packed)
	}
}

func compare(t *testing.T, name string, rows, mixed *DB, seed uint64) {
	t.Helper()
	want, got := answers(t, rows, rand.New(rand.NewPCG(seed, 1))), answers(t, mixed, rand.New(rand.NewPCG(seed, 1)))
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%s: with blocks\n%.900s\nand without\n%.900s", name, got[i], want[i])
			return
		}
	}
	if err := mixed.Check(); err != nil {
		t.Error(name, err)
	}
	if err := mixed.CheckLinks(); err != nil {
		t.Error(name, err)
	}
	copied, err := mixed.Backup(context.Background(), filepath.Join(t.TempDir(), "copy.db"))
	if n := must[int64](t)(rows.CountReadings()); err != nil || copied.Readings != n {
		t.Errorf("%s: the copy has %d readings of %d, %v", name, copied.Readings, n, err)
	}
}

// A probe that sends seldom stays rows, and holds nobody up: not the others, and not a Packer
// that begins anew and finds its oldest row far back.
func TestASlowProbeHoldsNobodyUp(t *testing.T) {
	db := newDB(t)
	for hour := range 60 {
		group := []process.Reading{plain("slow", 3600*hour)}
		for i := range 30 {
			group = append(group, plain("fast", 3600*hour+60*i))
		}
		commit(t, db, group...)
		seal(t, db, 1000)
		packSome(t, db, 90, 9)
	}
	left := func(probe string) (n int) {
		if err := db.reader.QueryRow("SELECT count(*) FROM readings WHERE probe = (SELECT id FROM probes WHERE name = ?)", probe).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	if slow, fast := left("slow"), left("fast"); slow != 60 || fast >= 90 {
		t.Errorf("%d rows of the slow probe, and %d of the fast one", slow, fast)
	}
	for range 60 { // one of each hour is enough by now
		commit(t, db, plain("slow", 3600*60+int(db.LastSeq())))
	}
	seal(t, db, 1000)
	if packSome(t, db, 90, 9) == 0 || left("slow") != 0 {
		t.Errorf("%d rows of the slow probe are left", left("slow"))
	}
}

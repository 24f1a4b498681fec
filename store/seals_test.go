package store

import (
	"context"
	"math"
	"slices"
	"testing"

	"flitch/process"
	"flitch/process/evidence"
)

// What a seal reads is what is evaluated: row by row the same as the log, with the values,
// marks and times of each.
func TestASealReadsWhatIsEvaluated(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(40, 12)...)
	bad := plain("probe-3", 60)
	bad.Quality, bad.Reason, bad.Raw, bad.Value = process.Bad, "sentinel", "-127\x00\xff", math.NaN()
	commit(t, db, bad, plain("probe-1", 20))
	update(t, db, func(tx *Tx) error {
		_, _, err := tx.AppendCommand(process.Command{ID: "a", Kind: process.CommandNote, Batch: "B", Text: "ö <&> \u2028"}, noon)
		if err == nil {
			_, err = tx.AppendTick(noon)
		}
		return err
	})
	var got []process.Input
	err := db.EachRow(context.Background(), 1, math.MaxInt64, func(r *evidence.Row) error {
		in, err := r.Input()
		got = append(got, in)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.SortFunc(got, func(a, b process.Input) int { return int(a.Seq - b.Seq) })
	want := must[[]process.Input](t)(db.NextInputs(0, 1000))
	if len(got) != len(want) || len(got) < 16 {
		t.Fatalf("%d rows, the log has %d", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		if math.IsNaN(w.Reading.Value) && math.IsNaN(g.Reading.Value) {
			w.Reading.Value, g.Reading.Value = 0, 0
		}
		if g.Seq != w.Seq || g.Kind != w.Kind || !g.At.Equal(w.At) || g.Reading != w.Reading || g.Command.Text != w.Command.Text {
			t.Errorf("number %d is\n%+v, and is evaluated as\n%+v", w.Seq, g, w)
		}
	}
}

// Seals of bounded size cover every number once, whichever table it is in.
func TestSealsCoverEveryNumberOnce(t *testing.T) {
	db := newDB(t)
	commit(t, db, plains(100, 12)...)
	commit(t, db, plains(100, 12)...) // all of them again: numbers are missing
	commit(t, db, plains(130, 12)...)
	total := must[int64](t)(db.CountRows(0))
	counted, from := int64(0), int64(1)
	for {
		var next, again []string
		to := must[int64](t)(db.EachNext(context.Background(), from-1, 7, func(r *evidence.Row) error { next = append(next, string(r.Append(nil))); return nil }))
		if to == 0 {
			break
		}
		err := db.EachRow(context.Background(), from, to, func(r *evidence.Row) error { again = append(again, string(r.Append(nil))); return nil })
		n := int64(len(next))
		if err != nil || n == 0 || n > 7 || n < 7 && to != db.LastSeq() || !slices.Equal(next, again) {
			t.Fatalf("numbers %d to %d: %q, and then %q, %v", from, to, next, again, err)
		}
		counted, from = counted+n, to+1
	}
	if counted != total || from-1 != db.LastSeq() {
		t.Errorf("%d of %d rows up to number %d of %d", counted, total, from-1, db.LastSeq())
	}
}

func TestSignaturesStayAsTheyWere(t *testing.T) {
	db := newDB(t)
	update(t, db, func(tx *Tx) error {
		_, err := tx.AppendSigned(process.JournalLine{At: noon, Kind: evidence.SealKind, Text: evidence.Seal{From: 1, To: 1, Root: evidence.Root(1, 1, nil)}.Text()},
			func(line int64, hash string, at int64) evidence.Signature {
				return evidence.Signature{Line: line, Hash: hash, At: at, Key: make([]byte, 32), Sig: make([]byte, 64)}
			})
		return err
	})
	if s, found, err := db.LastSeal(); err != nil || !found || s.Seq != 1 || s.Seal.To != 1 {
		t.Errorf("last seal %+v, %v, %v", s, found, err)
	}
	if s, found, err := db.LastSignature(); err != nil || !found || s.Line != 1 {
		t.Errorf("last signature %+v, %v, %v", s, found, err)
	}
	for _, q := range []string{"UPDATE signatures SET at = 0", "DELETE FROM signatures", "INSERT OR REPLACE INTO signatures (line, hash, at, key, signature) SELECT line, hash, 0, key, signature FROM signatures"} {
		if _, err := db.writer.Exec(q); err == nil {
			t.Errorf("%s was let through", q)
		}
	}
	if err := db.CheckSchema(); err != nil {
		t.Error(err)
	}
	if _, err := db.writer.Exec("DROP TRIGGER signatures_no_delete"); err != nil {
		t.Fatal(err)
	}
	if err := db.CheckSchema(); err == nil {
		t.Error("a guard that was taken off is not seen")
	}
}

// The first seal over a number is found among many, whatever lies between them, as by looking at all.
func TestSealOver(t *testing.T) {
	db, _ := sealedLog(t, 3)
	all, err := db.Seals()
	if err != nil || len(all) < 50 {
		t.Fatalf("%d seals, %v", len(all), err)
	}
	for n := int64(-1); n <= all[len(all)-1].Seal.To+2; n++ {
		i := slices.IndexFunc(all, func(s SealedLine) bool { return s.Seal.To >= n })
		got, found, err := db.SealOver(n)
		if err != nil || found != (i >= 0) || found && got.Seq != all[i].Seq {
			t.Fatalf("over number %d: line %d, %v, %v; want the seal %d", n, got.Seq, found, err, i)
		}
	}
	for i, s := range all[1:] {
		before, found, err := db.SealBefore(s.Seq)
		if err != nil || !found || before.Seq != all[i].Seq {
			t.Fatalf("before line %d: %d, %v, %v", s.Seq, before.Seq, found, err)
		}
	}
	if some, err := db.SealsBetween(all[3].Seq, all[7].Seq); err != nil || len(some) != 5 || some[0].Seq != all[3].Seq {
		t.Errorf("%d seals, %v", len(some), err)
	}
	if _, found, err := db.SealBefore(all[0].Seq); found || err != nil {
		t.Errorf("before the first: %v, %v", found, err)
	}
}

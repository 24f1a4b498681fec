package ingest_test

import (
	"fmt"
	"testing"
	"testing/synctest"
	"time"

	"flitch/ingest"
	"flitch/ingest/ingesttest"
	"flitch/process"
)

// Copies are heard as the intake hears them, as not stored, and leave nothing in the intake: what
// was a copy first is a reading like any other when it comes by the way on which it is stored.
func TestCopiesAreHeardAndNotStored(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShelf(t)
		in := start(t, s, mappings(), ingest.Options{})
		var heard []process.Reading
		copies, err := ingest.NewCopies(mappings(), ingesttest.Wall{}, func(r []process.Reading, stored bool) {
			if stored {
				t.Error("a copy is said to be stored")
			}
			heard = append(heard, r...)
		})
		if err != nil {
			t.Fatal(err)
		}
		at := time.Now().UnixMilli()
		core := func(n int) string { return fmt.Sprintf(`{"t":%d,"at":%d}`, 50+n, at+int64(n)) }
		for n := range 3 {
			copies.Hear(ingest.Message{Topic: "kettle/core", Payload: []byte(core(n))})
		}
		copies.Hear(ingest.Message{Topic: "kettle/core", Payload: []byte(core(9)), Retained: true})
		copies.Hear(ingest.Message{Topic: "kettle/core", Payload: []byte("nan")})
		copies.Hear(ingest.Message{Topic: "nobody/reads", Payload: []byte("1")})
		if len(heard) != 3 || heard[2].Value != 52 || heard[2].Quality != process.Good || heard[2].Measured.UnixMilli() != at+2 {
			t.Errorf("heard %+v", heard)
		}
		if rows := s.Series(t, "core-a"); len(rows) != 0 {
			t.Errorf("%d copies are stored", len(rows))
		}
		for n := range 3 {
			in.submit(t, "kettle/core", core(n), nil)
		}
		synctest.Wait()
		rows := s.Series(t, "core-a")
		if len(rows) != 3 {
			t.Fatalf("%d rows", len(rows))
		}
		for _, r := range rows {
			if r.Quality != process.Good {
				t.Errorf("%+v", r)
			}
		}
	})
}

func TestCopiesNeedMappings(t *testing.T) {
	if _, err := ingest.NewCopies([]ingest.Mapping{{}}, nil, nil); err == nil {
		t.Error("an empty mapping was taken")
	}
}

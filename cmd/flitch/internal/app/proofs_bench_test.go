package app

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"math"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/verify"
	"flitch/process"
	"flitch/process/evidence"
)

// BenchmarkProof seals nine days of four probes at five seconds, gives them away and looks at
// them: the rows sealed in a second beside the bare SHA-256 of the same bytes, and how long it
// takes to write the proof, to verify it, and to verify the database. Limits: proposals.
func BenchmarkProof(b *testing.B) {
	const writeIn, lookIn = 20.0, 20.0 // s
	for b.Loop() {
		s := newShop(b)
		s.open()
		s.at(0)
		s.begin(cooked)
		s.nineDays(b)
		rows, err := s.app.db.CountRows(0)
		if err != nil {
			b.Fatal(err)
		}
		took := timed(b, func() error { return s.sealAnew(nil) })
		var all []byte
		if err := s.sealAnew(func(r *evidence.Row) { all = r.Append(all) }); err != nil {
			b.Fatal(err)
		}
		bare := timed(b, func() error { sha256.Sum256(all); return nil })
		fmt.Printf("bench seal_rows %.0f rows/s %.0f %.3f\n", float64(rows)/took, float64(rows)/bare, bare/took)
		s.finish(s.clock.Now())
		var file bytes.Buffer
		took = timed(b, func() error { return s.app.WriteRecord(b.Context(), "PS-02", "proof", &file) })
		fmt.Printf("bench proof_nine_days %.2f s %.0f %.2f\n", took, writeIn, took/writeIn)
		took = timed(b, func() error { return firstWrong(verify.Proof(&file, "")) })
		fmt.Printf("bench verify_nine_days %.2f s %.0f %.2f\n", took, lookIn, took/lookIn)
		s.close()
		took = timed(b, func() error {
			r, err := verify.Database(b.Context(), s.cfg.Site.Database, "")
			if err != nil {
				return err
			}
			return firstWrong(r)
		})
		fmt.Printf("bench verify_database %.2f s %.0f %.2f\n", took, lookIn, took/lookIn)
	}
}

func firstWrong(r evidence.Report) error {
	if bad := r.First(); bad != nil {
		return fmt.Errorf("%s", bad)
	}
	return nil
}

func timed(b *testing.B, do func() error) float64 {
	b.Helper()
	began := time.Now()
	if err := do(); err != nil {
		b.Fatal(err)
	}
	return time.Since(began).Seconds()
}

// sealAnew reads the whole log as a seal does, in parts as large as seals are at most.
func (s *shop) sealAnew(each func(*evidence.Row)) error {
	for from := int64(1); ; {
		var rows evidence.Sealer
		to, err := s.app.db.EachNext(s.patience(), from-1, sealRows, func(r *evidence.Row) error {
			if each != nil {
				each(r)
				return nil
			}
			rows.Take(r)
			return nil
		})
		if err != nil || to == 0 {
			return err
		}
		if each == nil {
			rows.Seal(from, to)
		}
		from = to + 1
	}
}

// nineDays puts nine days of readings of four probes into the store, an hour at a time.
func (s *shop) nineDays(b *testing.B) {
	b.Helper()
	for hour := range 9 * 24 {
		var list []process.Reading
		for n := range 720 {
			at := dawn.Add(time.Duration(hour)*time.Hour + time.Duration(n)*5*time.Second + 5*time.Second)
			for i, probe := range []string{"slow", "chamber", "core", "spare"} {
				v := math.Round(10*(3+float64(i)/4+math.Sin(float64(n)/90)/5)) / 10
				list = append(list, process.Reading{Probe: probe, Measured: at, Received: at.Add(40 * time.Millisecond), Device: at, Value: v})
			}
		}
		s.clock.Step(dawn.Add(time.Duration(hour+1) * time.Hour))
		s.stored(b, list)
		s.settle()
	}
}

package engine

import (
	"fmt"
	"testing"
	"time"

	"flitch/process"
)

// A doubled log has readings of one moment twice, by two numbers, as a fleet has them.
type doubled struct {
	Log
	all []process.Input
}

func (d doubled) EachReading(_ []string, _, _ time.Time, fn func(int64, process.Reading) error) error {
	for _, in := range d.all {
		if err := fn(in.Seq, in.Reading); err != nil {
			return err
		}
	}
	return nil
}

// Of a moment that was measured, removed and imported again, what is computed anew takes the one
// that was in force at its number: a batch that was closed before the import has the first.
func TestOfOneMomentTheLaterNumberIsInForce(t *testing.T) {
	noon := time.Date(2031, 5, 5, 12, 0, 0, 0, time.UTC)
	var log doubled
	for _, r := range []struct {
		probe  string
		minute int
		seq    int64
	}{{"a", 0, 1}, {"b", 0, 2}, {"a", 0, 7}, {"a", 1, 3}, {"a", 2, 4}, {"a", 2, 8}, {"b", 2, 9}} {
		log.all = append(log.all, process.Input{Seq: r.seq, Reading: process.Reading{Probe: r.probe, Measured: noon.Add(time.Duration(r.minute) * time.Minute)}})
	}
	for through, want := range map[int64]string{9: "[2 7 3 8 9]", 7: "[2 7 3 4]", 6: "[1 2 3 4]", 0: "[]"} {
		got := []int64{}
		err := onlyLog{Log: log, measured: through}.EachReading(nil, noon, noon, func(seq int64, _ process.Reading) error { got = append(got, seq); return nil })
		if err != nil || fmt.Sprint(got) != want {
			t.Errorf("as of number %d: %v, want %s (%v)", through, got, want, err)
		}
	}
	enough := fmt.Errorf("enough")
	for at := range int64(5) {
		n := int64(0)
		err := onlyLog{Log: log, measured: 9}.EachReading(nil, noon, noon, func(int64, process.Reading) error {
			if n++; n > at {
				return enough
			}
			return nil
		})
		if err != enough || n != at+1 {
			t.Errorf("it went on after an error: %d readings, %v", n, err)
		}
	}
}

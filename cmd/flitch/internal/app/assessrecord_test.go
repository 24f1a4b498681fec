package app

import (
	"bytes"
	"encoding/csv"
	"errors"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/assess"
	"flitch/process"
	"flitch/process/plans"
)

// What an inspector gets as a table, and what was entered, gives the same verdicts to
// whoever runs it through flitch assess.
func TestTheTableOfARecordGivesTheSameVerdicts(t *testing.T) {
	t.Parallel()
	compared := 0
	for _, night := range told {
		rec := rehearsed(t, night)
		plan, err := plans.BuiltIn(rec.Plan.Name)
		if err != nil {
			t.Fatal(err)
		}
		var table bytes.Buffer
		if err := rec.CSV(&table); err != nil {
			t.Fatal(err)
		}
		doses := map[string]process.DoseEntry{}
		events := csvOf(t, func(line func(at time.Time, event, detail string)) {
			for _, s := range rec.Stages {
				line(s.Entered, "stage", string(s.Name))
			}
			for _, e := range rec.Entries {
				if e.Kind == process.CommandTurned && e.Struck == nil {
					line(e.Happened, "turned", strings.Join(e.Pieces, " "))
				}
			}
			for _, d := range rec.Doses {
				detail := d.Typed.String() + strings.Join(d.Pieces, "+")
				doses[detail] = d
				line(d.At, "dosed", detail)
			}
		})
		got, err := assess.Run(assess.Request{Plan: plan, Pieces: rec.Head.Pieces, Readings: &table, Events: strings.NewReader(events), Policy: alerts.Policy{Location: time.UTC},
			Dosing: func(detail string) (*process.Dosing, string, error) {
				d, known := doses[detail]
				if !known {
					return nil, "", errors.New("no such dose")
				}
				said := d.Said
				said.Portions = []process.DosePortion{{Pieces: d.Pieces, CureG: d.CureG, AskedG: d.AskedG}}
				return &said, d.Why, nil
			}})
		if err != nil {
			t.Errorf("%s: %v", night, err)
			continue
		}
		verdicts := map[process.ClockName]process.Verdict{}
		for _, c := range got.Clocks {
			verdicts[c.Name] = c.Verdict
		}
		for _, c := range rec.Clocks {
			compared++
			if verdicts[c.Name] != c.Verdict {
				t.Errorf("%s, %s: %q by the table, %q in the record", night, c.Name, verdicts[c.Name], c.Verdict)
			}
		}
	}
	if compared < 6*5 {
		t.Errorf("only %d clocks were compared", compared)
	}
}

// csvOf writes a file of events.
func csvOf(t *testing.T, each func(line func(at time.Time, event, detail string))) string {
	t.Helper()
	var b strings.Builder
	w := csv.NewWriter(&b)
	write := func(fields ...string) {
		if err := w.Write(fields); err != nil {
			t.Fatal(err)
		}
	}
	write("time", "event", "detail")
	each(func(at time.Time, event, detail string) { write(at.UTC().Format(time.RFC3339Nano), event, detail) })
	w.Flush()
	return b.String()
}

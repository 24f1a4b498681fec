package app

import (
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// A probe fails in ice after a batch is closed: what it measured since its last good
// check is in doubt on the record, the verdict stays the rule's, and a restart forgets
// nothing.
func TestAFailedCheckIsOnTheRecord(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	check := func(readC float64) {
		s.must(process.Command{Kind: process.CommandChecked, Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: readC}})
	}
	s.every(time.Minute, 0, 5*time.Minute, func(time.Duration) { s.read("slow", 3) })
	check(0.2)
	s.at(10 * time.Minute)
	s.must(process.Command{Kind: process.CommandClose, Text: "given away raw"})
	before := s.record()
	s.at(20 * time.Minute)
	check(2.8)
	if told := s.phone.heard(); len(told) != 1 || told[0] != "B9 raised tell" {
		t.Errorf("told %v", told)
	}
	s.close()
	s.open()

	after := s.record()
	for i, d := range after.Data {
		if d.Probe != "slow" {
			if d.Failed != nil || d.LastGood != nil {
				t.Errorf("%s: %+v", d.Probe, d)
			}
			continue
		}
		if before.Data[i].Failed != nil || d.Failed == nil || d.Failed.ReadC != 2.8 || d.LastGood == nil || d.LastGood.ReadC != 0.2 {
			t.Errorf("checks of slow: %+v, failed %+v", d.LastGood, d.Failed)
		}
	}
	for i, c := range after.Clocks {
		doubted := strings.Contains(strings.Join(c.Uncertain, "; "), "probe slow read 2.8 °C in ice")
		if want := c.Name == process.ClockCure || c.Name == process.ClockCold; doubted != want || c.Verdict != before.Clocks[i].Verdict {
			t.Errorf("clock %s: %q %v", c.Name, c.Verdict, c.Uncertain)
		}
	}
	var html strings.Builder
	if err := after.HTML(&html); err != nil || !strings.Contains(html.String(), "in doubt: read 2.8 °C in ice") || !strings.Contains(html.String(), "last good check Mon 5 May 2031") {
		t.Errorf("%v: the page does not say it", err)
	}
	probes, err := (&reader{app: s.app}).Probes(s.patience())
	if err != nil || len(probes) != 4 || probes[0].Probe != "slow" || probes[0].Failed == nil || strings.Join(probes[0].Batches, " ") != "PS-02" {
		t.Errorf("%v: probes %+v", err, probes)
	}
	for range 30 { // two years of months, and more
		s.at(s.app.clock.Now().Sub(dawn) + time.Minute)
		check(0.1)
	}
	for _, gone := range []bool{false, true} {
		if gone { // the probe was thrown away
			s.close()
			reconfigured(s.cfg, "slow", nil)
			s.open()
		}
		years := s.record()
		if d := years.Data[0]; d.Probe != "slow" || d.Failed == nil || d.Failed.ReadC != 2.8 || d.LastGood == nil || d.LastGood.ReadC != 0.2 {
			t.Errorf("years later, thrown away %v: %+v, failed %+v", gone, d.LastGood, d.Failed)
		}
		for i, c := range years.Clocks {
			if !slices.Equal(c.Uncertain, after.Clocks[i].Uncertain) {
				t.Errorf("years later, thrown away %v: clock %s is uncertain %q, it was %q", gone, c.Name, c.Uncertain, after.Clocks[i].Uncertain)
			}
		}
	}
	if err := s.try(process.Command{Kind: process.CommandChecked, Check: &process.CheckSaid{Probe: "nowhere", Method: process.CheckIce}}); err == nil || !strings.Contains(err.Error(), "there is no probe") {
		t.Errorf("an unknown probe: %v", err)
	}
}

func (s *shop) record() *record.Record {
	s.t.Helper()
	rec, err := (&reader{app: s.app, site: record.Site{Name: "Plover Shed"}}).Record(s.patience(), "PS-02")
	if err != nil {
		s.t.Fatal(err)
	}
	return rec
}

package app

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// corrections plays twenty minutes in which the slow sensor sends 5 °C, and is found
// 1.5 K high in ice at the fifth of them; typed is the minute somebody says so.
func corrections(t *testing.T, typed int, stop bool) *shop {
	s := newShop(t)
	s.open()
	s.begin(raw)
	for m := range 20 {
		s.at(time.Duration(m)*time.Minute + 30*time.Second)
		if m == typed {
			s.must(process.Command{Kind: process.CommandChecked, At: dawn.Add(5*time.Minute + 30*time.Second),
				Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: 1.5, Correct: true}})
		}
		if stop && m == 12 {
			s.close()
			s.open()
		}
		s.at(time.Duration(m+1) * time.Minute)
		s.read("slow", 5)
		s.settle()
	}
	return s
}

// What is stored stays as it was sent; a check in time, a check typed late and a restart
// in between give one and the same, and the record has all it takes to do the sum again.
func TestACorrectionIsTheSameHoweverItCame(t *testing.T) {
	sums := map[string]float64{}
	for name, s := range map[string]*shop{"in time": corrections(t, 5, false), "late": corrections(t, 14, false), "in time, stopped": corrections(t, 5, true),
		"late, stopped": corrections(t, 9, true), "never": corrections(t, 99, false)} {
		s.at(21 * time.Minute)
		sums[name] = s.clockOf(process.ClockCure).Sum
		if name != "late" {
			continue
		}
		if last := s.batch().TrackOf(process.Product).Last.Value; last != 3.5 {
			t.Errorf("sent 5 and counted as %g", last)
		}
		rec := s.record()
		var csv, html strings.Builder
		if err := rec.CSV(&csv); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(csv.String(), ",slow,3.5,°C,good,measured,5\n"); n != 15 {
			t.Errorf("%d corrected rows, want 15:\n%s", n, csv.String())
		}
		if n := strings.Count(csv.String(), ",slow,5,°C,good,measured,\n"); n != 5 {
			t.Errorf("%d rows from before, want 5", n)
		}
		if err := rec.HTML(&html); err != nil || !strings.Contains(html.String(), "counted from Mon 5 May 2031 06:05 UTC on as sent − 1.500 °C (T.V.: read 1.5 °C in ice") {
			t.Errorf("%v: the page does not say what was corrected:\n%s", err, html.String())
		}
		if !strings.Contains(html.String(), "in doubt: read 1.5 °C in ice") {
			t.Error("what the probe told before is not in doubt")
		}
	}
	for name, sum := range sums {
		if want := sums["in time"]; (math.Abs(sum-want) < 1e-12) == (name == "never") {
			t.Errorf("%s: %.12f days of cure, in time %.12f", name, sum, want)
		}
	}
}

// A batch that begins after a check is measured with its correction, and keeps it when
// the configuration and the probe have long moved on.
func TestABatchAfterACheck(t *testing.T) {
	s := newShop(t)
	s.open()
	s.must(process.Command{Kind: process.CommandChecked, Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: -1, Correct: true}})
	s.at(time.Minute)
	s.begin(raw)
	s.at(2 * time.Minute)
	s.read("slow", 2)
	s.settle()
	if last := s.batch().TrackOf(process.Product).Last.Value; last != 3 {
		t.Errorf("sent 2 and counted as %g", last)
	}
	err := s.try(process.Command{Kind: process.CommandChecked, At: dawn.Add(-time.Hour), Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, Correct: true}})
	if err == nil || !strings.Contains(err.Error(), "was checked after that") {
		t.Errorf("a correction in front of another: %v", err)
	}
}

// A probe out of use is kept and shown and counts for nothing; that its place is not
// measured is told.
func TestAProbeOutOfUseIsNotMeasured(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(time.Minute, 0, 5*time.Minute, func(time.Duration) { s.read("slow", 3) })
	s.must(process.Command{Kind: process.CommandChecked, Check: &process.CheckSaid{Probe: "slow", Method: process.CheckIce, ReadC: 2.8}})
	s.every(time.Minute, 6*time.Minute, 40*time.Minute, func(time.Duration) { s.read("slow", 9); s.say("shop/spare", "3") })
	s.phone.mu.Lock()
	got := slices.Clone(s.phone.got)
	s.phone.mu.Unlock()
	if told := strings.Join(s.phone.heard(), ", "); told != "B9 raised tell, B2 raised tell" {
		t.Fatalf("told %s", told)
	}
	b9, b2 := got[0].Text, got[1].Text
	if !strings.Contains(b9, "not measured until it passes") || !strings.Contains(b2, "Not measured: the probe failed its check on 2031-05-05") {
		t.Errorf("B9:\n%s\nB2:\n%s", b9, b2)
	}
	slow := s.batch().TrackOf(process.Product)
	if slow.Last.Value != 3 || slow.Bad != 36 { // that of the moment of the check too
		t.Errorf("last counted %g, %d left out", slow.Last.Value, slow.Bad)
	}
	glances, err := (&reader{app: s.app}).Glances(s.patience())
	if err != nil || glances[0].Fridge.Product.Doubt != process.OutOfUse {
		t.Errorf("%v: the page says %+v", err, glances)
	}
	var csv strings.Builder
	if err := s.record().CSV(&csv); err != nil || strings.Count(csv.String(), ",slow,9,°C,bad,measured,\n") != 35 {
		t.Errorf("%v: the readings are not on the record as left out:\n%s", err, csv.String())
	}
	probes, err := (&reader{app: s.app}).Probes(s.patience())
	if err != nil || probes[0].SentC != 9 || probes[0].Failed == nil || len(probes[0].Checks) != 1 || probes[0].Checks[0].Result.Batches[0] != "PS-02" {
		t.Errorf("%v: %+v", err, probes)
	}
	if c := s.clockOf(process.ClockCold); c.Verdict == process.Met {
		t.Errorf("the cold clock is %s", c.Verdict)
	}
}

package process

import (
	"math"
	"testing"
	"time"

	"flitch/process/cure"
)

// Cure specification section 0: a 1.5 in skinless belly in a bag at 4 °C reaches
// 0.765, 0.846, 0.899 after 5, 6, 7 days, and 0.90 at 7.02 days (computed there by
// an independent series).
func TestCureProgressOfABelly(t *testing.T) {
	for days, want := range map[int]float64{5: 0.765, 6: 0.846, 7: 0.899} {
		d := newDiary(t)
		d.batch.Plan.Cure.Water = 0.5
		d.batch.Pieces[0].ThicknessMM = 38.1
		length := time.Duration(days) * day
		d.line("slow", 0, length, 5*minute, 4, 4)
		p := d.batch.CureProgress()
		if len(p) != 1 || math.Abs(p[0].Centre-want) > 0.001 || p[0].Reach != cure.NotYet {
			t.Errorf("%d days: %+v, want %.3f", days, p, want)
		}
		f, ok := d.batch.CureFinish(d.batch.Now)
		if left := f.At.Sub(d.batch.Now).Hours(); !ok || math.Abs(left-(7.02-float64(days))*24) > 0.5 {
			t.Errorf("%d days: %.2f h left, want %.2f", days, left, (7.02-float64(days))*24)
		}
		if !f.Low.Before(f.At) || !f.High.After(f.At) {
			t.Errorf("interval %v to %v around %v", f.Low, f.High, f.At)
		}
	}
}

// Common practice, no source: a five-pound belly in a bag, turned daily, takes five
// to seven days, at least five. The estimate must not contradict it by more than
// its own interval.
func TestCureProgressAgreesWithPractice(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Cure.Water = 0.5
	d.batch.Pieces[0].ThicknessMM = 38.1
	d.line("slow", 0, 3*day, 5*minute, 4, 4)
	if p := d.batch.CureProgress()[0]; p.Reach == cure.Sure {
		t.Errorf("sure after three days: %+v", p)
	}
	d.line("slow", 3*day+5*minute, 14*day, 5*minute, 4, 4)
	if p := d.batch.CureProgress()[0]; p.Reach != cure.Sure {
		t.Errorf("not sure after a fortnight: %+v", p)
	}
}

func TestCureProgressStopsWhenFrozen(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Cure.Water = 0.5
	d.line("slow", 0, 3*day, 5*minute, -4, -4)
	if p := d.batch.CureProgress()[0]; p.Centre != 0 || !p.Never {
		t.Errorf("frozen: %+v", p)
	}
	if _, ok := d.batch.CureFinish(d.batch.Now); ok {
		t.Error("a frozen cure has no finish")
	}
}

// A skin is a sealed face: the path is the whole thickness.
func TestSkinDoublesThePath(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Cure.Water = 0.5
	d.line("slow", 0, 7*day, 5*minute, 4, 4)
	off := d.batch.CureProgress()[0].Centre
	d.batch.Pieces[0].SkinOn = true
	if on := d.batch.CureProgress()[0].Centre; on > 0.3*off {
		t.Errorf("skin off %.3f, on %.3f", off, on)
	}
}

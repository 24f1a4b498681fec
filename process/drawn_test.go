package process

import (
	"math"
	"slices"
	"testing"
	"time"
)

// The profile is the progress seen from the side: its deepest point is the centre, its
// band that of the centre, and at the finish the centre is through.
func TestTheProfileIsTheProgress(t *testing.T) {
	for _, skin := range []bool{false, true} {
		d := newDiary(t)
		d.batch.Plan.Cure.Water = 0.5
		d.batch.Pieces[0].ThicknessMM, d.batch.Pieces[0].SkinOn = 38.1, skin
		if _, ok := d.batch.CureProfile(); ok {
			t.Error("a profile before any reading")
		}
		d.line("slow", 0, 5*day, 5*minute, 4, 4)
		p, ok := d.batch.CureProfile()
		progress := d.batch.CureProgress()[0]
		if !ok || p.SkinOn != skin {
			t.Fatalf("skin on %v: %+v", skin, p)
		}
		deepest := (profilePoints - 1) / 2
		if skin {
			deepest = 0
		}
		for name, pair := range map[string][2]float64{
			"middle": {p.Now.Mid[deepest], progress.Centre}, "low": {p.Now.Low[deepest], progress.Low},
			"high": {p.Now.High[deepest], progress.High}, "finish": {p.Finish.Mid[deepest], p.Through}} {
			if math.Abs(pair[0]-pair[1]) > 1e-6 {
				t.Errorf("skin on %v: %s %g, want %g", skin, name, pair[0], pair[1])
			}
		}
		if slices.Min(p.Now.Mid) != p.Now.Mid[deepest] || len(p.Now.Mid) != profilePoints {
			t.Errorf("skin on %v: least at another place than the deepest: %v", skin, p.Now.Mid)
		}
		if f, _ := d.batch.CureFinish(d.batch.Now); !f.At.Equal(p.FinishAt) {
			t.Errorf("finish %v, forecast %v", p.FinishAt, f.At)
		}
	}
}

func TestAFrozenCureHasNoFinishToDraw(t *testing.T) {
	d := newDiary(t)
	d.batch.Plan.Cure.Water = 0.5
	d.line("slow", 0, 3*day, 5*minute, -4, -4)
	if p, ok := d.batch.CureProfile(); !ok || !p.FinishAt.IsZero() || len(p.Finish.Mid) != 0 {
		t.Errorf("frozen: %+v", p)
	}
}

// The legs of the picture are the legs of the clocks.
func TestTheChillOfThePictureIsThatOfTheClocks(t *testing.T) {
	d := newDiary(t)
	if _, ok := d.batch.Chill(d.batch.Now); ok {
		t.Error("a chill in the cure")
	}
	core := d.batch.Tracks[slices.IndexFunc(d.batch.Tracks, func(t *Track) bool { return t.Probe.Placement == Core })]
	if len(core.Legs) == 0 {
		t.Fatal("the plan of these tests has no chill")
	}
	start := d.batch.Now.Add(time.Hour)
	core.Legs[0].Start, core.Legs[0].End = start, start.Add(time.Hour)
	v, ok := d.batch.Chill(start.Add(2 * time.Hour))
	if !ok || len(v.Legs) != 1 {
		t.Fatalf("%+v", v)
	}
	l := v.Legs[0]
	if l.ToC != core.Legs[0].ToC || !l.Limit.Equal(start.Add(hoursOf(core.Legs[0].MaxHours))) || !l.End.Equal(start.Add(time.Hour)) || l.Piece != core.Probe.Piece {
		t.Errorf("%+v of %+v", l, core.Legs[0])
	}
}

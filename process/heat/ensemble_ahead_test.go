package heat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// followed is an ensemble at a minute of a large roast.
func followed(minute int) *Ensemble {
	measured, _ := largeRoast().cook(rand.New(rand.NewPCG(8, 60)), minute+1)
	e := NewCookEnsemble(0)
	for _, m := range measured {
		e.Advance(m)
	}
	return e
}

// A piece that is said never to come to a level is not there when it is moved on for
// the time all the same. Some pieces are given up while the chamber warms up, and few
// when it is far hotter.
func TestPieceNever(t *testing.T) {
	e := followed(47)
	for _, x := range []struct {
		chamberC, targetC float64
		hours             float64
		least, most       int
	}{
		{85, 68.3, 24, 50, 900},
		{85, 68.3, 3, 300, 1000},
		{60, 68.3, 24, 950, 1000}, // but those with a rim that is hotter already
		{140, 68.3, 24, 0, 20},
	} {
		in, to, given := e.law.in(x.chamberC), levelOf(x.targetC), 0
		for i := range e.pieces {
			p := e.pieces[i]
			if !p.never(&e.law, &in, to, x.hours) {
				continue
			}
			given++
			for at := 0.0; at < x.hours*60; at += coarseMin {
				p.advance(&e.law, &in, at, coarseMin)
			}
			if p.levelMax >= to {
				t.Errorf("%+v: piece %d was given up and came there", x, i)
			}
		}
		if given < x.least || given > x.most {
			t.Errorf("%+v: %d pieces given up", x, given)
		}
	}
}

func TestFalling(t *testing.T) {
	f := newFalling()
	for part := 0.0; part < 5; part += 0.00037 {
		near(t, "part still wet", f.at(part), 1/(1+math.Exp((part-1)/fallWidth)), 1e-6)
	}
}

// The same question in a minute is answered once, and again when anything differs.
func TestForecastReused(t *testing.T) {
	e := followed(120)
	asked := func(chamberC float64) (again bool) {
		e.scores[0].minutes = -1 // as no piece says
		if _, ok := e.OutlookIn(68.3, chamberC, true); !ok {
			t.Fatal("no outlook")
		}
		return e.scores[0].minutes >= 0
	}
	if _, ok := e.OutlookIn(68.3, 110, true); !ok || asked(110) {
		t.Error("the same question was answered twice")
	}
	if !asked(111) || !asked(110) {
		t.Error("another chamber was not asked about")
	}
	e.Advance(Minute{Min: 121, ChamberC: 110, CoreC: e.present()})
	if !asked(110) {
		t.Error("a minute later it was not asked again")
	}
}

package lethality

import (
	"math"
	"testing"
)

// The printed equivalents of ACMSF 2007 and the two slopes of Listeria.
func TestEquivalentTimes(t *testing.T) {
	burger, listeria := BurgerEquivalence(), Listeria()
	near(t, "65 °C, min", 2/burger.Rate(65), 13.6, 0.05)
	near(t, "75 °C, s", 60*2/burger.Rate(75), 18, 0.5)
	near(t, "Listeria at 60 °C, min", 2/listeria.Rate(60), 92.8, 0.05)
	near(t, "Listeria at 60 °C if z were 7.5, min", 2*math.Pow(10, 10/7.5), 43.1, 0.05)
	near(t, "6 log in 2 min at 70 °C", listeria.LogReduction(listeria.Segment(70, 70, 2)), 6, 1e-12)
	if b, l := burger.Rate(74), listeria.Rate(74); l >= b {
		t.Errorf("above 70 °C the larger z earns less: %v against %v", l, b)
	}
}

// A line through the temperature where z changes earns what its two parts earn.
func TestTwoSlopesAreSplitExactly(t *testing.T) {
	target := Listeria()
	below, above := target, target
	below.ZAboveC, above.ZC, above.ZAboveC = 0, 7.5, 0
	want := below.Segment(66, 70, 4) + above.Segment(70, 73, 3)
	near(t, "rising", target.Segment(66, 73, 7), want, 1e-12*want)
	near(t, "falling", target.Segment(73, 66, 7), want, 1e-12*want)
	near(t, "below only", target.Segment(62, 70, 7), below.Segment(62, 70, 7), 1e-12)
	near(t, "above only", target.Segment(70, 74, 7), above.Segment(70, 74, 7), 1e-12)
}

func TestEveryTargetIsWhole(t *testing.T) {
	if len(Targets()) != 4 {
		t.Errorf("%d targets", len(Targets()))
	}
	for _, target := range Targets() {
		if target.Name == "" || target.Source == "" || !(target.ZC > 0) || !(target.DRefMin > 0) || !(target.CapC > target.FloorC) {
			t.Errorf("not whole: %+v", target)
		}
	}
}

// Credit from below 57 °C is told apart.
func TestWeakCredit(t *testing.T) {
	var s Sum
	s.Add(Salmonella(), 56, 56, 30, 60)
	near(t, "all of it below", s.WeakMin, s.FMin, 1e-12)
	if !s.Weak() {
		t.Error("all of the credit came from below 57 °C, and it is not called weak")
	}
	s.Add(Salmonella(), 56, 66, 10, 60)
	low, whole := Salmonella().Segment(56, 57, 1), Salmonella().Segment(56, 66, 10)
	near(t, "a line through it", s.WeakMin, Salmonella().Segment(56, 56, 30)+low, 1e-9)
	near(t, "the whole", s.FMin, Salmonella().Segment(56, 56, 30)+whole, 1e-9)
	if s.Weak() {
		t.Errorf("%+v is called weak", s)
	}
}

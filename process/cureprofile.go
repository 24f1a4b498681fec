package process

import (
	"time"

	"flitch/process/cure"
)

// profilePoints is how many points a profile has from face to face, odd, so that one is
// in the middle.
const profilePoints = 41

// A CureProfile is what diffusion says of the inside of the slowest piece. It is an
// estimate: no probe sees it.
type CureProfile struct {
	Piece       string
	ThicknessMM float64
	SkinOn      bool    // the first face is the skin, and sealed
	Through     float64 // part of equilibrium that counts as through
	Now         CureCurve
	NowAt       time.Time
	Finish      CureCurve // when the deepest point is likely through
	FinishAt    time.Time // zero: it already is, or it is frozen
}

// A CureCurve is the concentration over that at equilibrium, in even steps from one face
// to the other; Low and High are the least and most of it in the 80 % interval of the
// diffusivity.
type CureCurve struct{ Mid, Low, High []float64 }

// CureProfile is the profile through the slowest piece. ok is false where CureProgress
// has none, or the batch is not in cure.
func (b *Batch) CureProfile() (out CureProfile, ok bool) {
	if b.Stage().Name != StageCure || !b.Open() {
		return out, false
	}
	slowest, found := CureProgress{}, false
	for _, p := range b.CureProgress() {
		if !found || p.Left > slowest.Left || p.Left == slowest.Left && p.Centre < slowest.Centre {
			slowest, found = p, true
		}
	}
	if !found {
		return out, false
	}
	for _, p := range b.Pieces {
		if p.Name == slowest.Piece {
			return b.profile(p, slowest), true
		}
	}
	return out, false
}

func (b *Batch) profile(p Piece, progress CureProgress) CureProfile {
	cut, tau := b.Plan.Cure.inside(p, b.slowestCure().Cure)
	sealed := p.SkinOn && cut.Shape == cure.Slab
	out := CureProfile{Piece: p.Name, ThicknessMM: p.ThicknessMM, SkinOn: sealed, Through: cure.DefaultFraction,
		Now: curve(cut, tau, sealed), NowAt: b.Now}
	if progress.Left > 0 && !progress.Never {
		out.Finish, out.FinishAt = curve(cut, cut.TauFor(cure.DefaultFraction), sealed), b.Now.Add(hoursOf(progress.Left))
	}
	return out
}

// curve is the profile after a transformed time.
func curve(cut cure.Cut, tau float64, sealed bool) (out CureCurve) {
	out.Mid, out.Low, out.High = cut.Across(tau, sealed, profilePoints)
	return out
}

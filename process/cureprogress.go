package process

import (
	"math"
	"time"

	"flitch/process/cure"
)

// A CureProgress is what diffusion says of one piece, beside the rule the user
// chose. It is an estimate: the diffusivity of salt in pork is known within a
// factor of 1.67 each way (80 %), and no probe sees it.
type CureProgress struct {
	Piece    string     `json:"piece"`
	Centre   float64    `json:"centre"` // concentration at the deepest point over that at equilibrium, 0 to 1
	Low      float64    `json:"low"`    // and High: the centre at both ends of the 80 % interval of the diffusivity
	High     float64    `json:"high"`
	Mean     float64    `json:"mean"`   // uptake over that at equilibrium, 0 to 1
	Reach    cure.Reach `json:"reach"`  // centre at 0.90 of equilibrium: not yet, likely, sure
	Left     float64    `json:"left_h"` // hours until it is likely, at the temperature of now; 0 when it is
	Earliest float64    `json:"earliest_h"`
	Latest   float64    `json:"latest_h"`
	Never    bool       `json:"never,omitempty"` // frozen: it does not go on
	// Parted is set where days per inch are too few by diffusion (over 2.24 in in a
	// bag at 4 °C, cure specification section 4).
	Parted bool `json:"parted,omitempty"`
	// NitriteLeft is the part of the ingoing nitrite that is left, 0 to 1, by a law
	// from memory within a factor of 2; the gaps of the record lose none.
	NitriteLeft float64 `json:"nitrite_left"`
	// Of the centre, when the plan says what was put on: salt, % of meat and salt, and
	// ingoing nitrite, ppm.
	SaltPct    float64 `json:"salt_pct,omitempty"`
	NitritePPM float64 `json:"nitrite_ppm,omitempty"`
}

// partedInches is where 7 days per inch and diffusion in a bag at 4 °C agree;
// thicker pieces need more by diffusion (cure specification section 4).
const partedInches = 2.24

// CureProgress estimates how far the cure has come in each piece. It is empty when
// the plan gives no water content, or no fridge probe was heard in the cure.
func (b *Batch) CureProgress() []CureProgress {
	rule := b.Plan.Cure
	slowest := b.slowestCure()
	if rule.Water == 0 || slowest == nil {
		return nil
	}
	out := make([]CureProgress, 0, len(b.Pieces))
	for _, p := range b.Pieces {
		out = append(out, rule.progress(p, slowest.Cure, slowest.Last.Value))
	}
	return out
}

// slowestCure is the fridge probe by which the cure has come least far; nil: none was
// heard.
func (b *Batch) slowestCure() (slowest *Track) {
	for _, t := range b.fridgeTracks(&Clock{}, StageCure) {
		if slowest == nil || t.Cure.Path2 < slowest.Cure.Path2 {
			slowest = t
		}
	}
	return slowest
}

// inside is the piece as diffusion sees it, and the transformed time behind it.
func (r CureRule) inside(p Piece, sum CureSum) (cut cure.Cut, tau float64) {
	path := cure.Path(shapeOf(r.Shape), p.ThicknessMM/1000, p.SkinOn)
	return cure.Cut{Shape: shapeOf(r.Shape), Alpha: r.bath(p).Alpha}, sum.Path2 / (path * path)
}

func (r CureRule) bath(p Piece) cure.Bath {
	return cure.Bag(p.GreenG, r.Water, r.purge()*p.GreenG, r.SaltPct/100*p.GreenG, r.NitritePPM/1000*p.GreenG)
}

// progress is the estimate for one piece with the cure of one probe behind it, which
// lies at tempC now.
func (r CureRule) progress(p Piece, sum CureSum, tempC float64) CureProgress {
	bath, path := r.bath(p), cure.Path(shapeOf(r.Shape), p.ThicknessMM/1000, p.SkinOn)
	cut, tau := r.inside(p, sum)
	finish := cut.Finish(cure.DefaultFraction, tau, path, tempC)
	out := CureProgress{Piece: p.Name, Centre: cut.Centre(tau), Low: cut.Centre(tau / cure.SpreadD), High: cut.Centre(tau * cure.SpreadD),
		Mean: cut.Mean(tau), Reach: cut.Reached(cure.DefaultFraction, tau), NitriteLeft: cure.NitriteLeft(sum.Decay),
		Parted: r.DaysPerInch > 0 && p.ThicknessMM/mmPerInch > partedInches}
	out.SaltPct, out.NitritePPM = bath.SaltPct(out.Centre), bath.NitritePPM(out.Centre)
	if out.Never = math.IsInf(finish.Hours, 1); !out.Never {
		out.Left, out.Earliest, out.Latest = finish.Hours, finish.Earliest, finish.Latest
	}
	return out
}

// purge is the free liquid in the bag, part of the green weight, said or usual.
func (r CureRule) purge() float64 {
	if r.Purge == 0 {
		return cure.DefaultPurge
	}
	return r.Purge
}

// CureFinish returns when the slowest piece is likely to be through by diffusion at
// the temperature of now, with its 80 % interval. ok is false when there is no
// estimate, it already is, or it is frozen.
func (b *Batch) CureFinish(now time.Time) (f Forecast, ok bool) {
	var worst CureProgress
	for _, p := range b.CureProgress() {
		if p.Never {
			return Forecast{}, false
		}
		if p.Left > worst.Left {
			worst, ok = p, true
		}
	}
	if !ok || b.Stage().Name != StageCure {
		return Forecast{}, false
	}
	return Forecast{At: now.Add(hoursOf(worst.Left)), Low: now.Add(hoursOf(worst.Earliest)), High: now.Add(hoursOf(worst.Latest))}, true
}

func shapeOf(name string) cure.Shape {
	return map[string]cure.Shape{"cylinder": cure.Cylinder, "sphere": cure.Sphere}[name]
}

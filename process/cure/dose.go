package cure

import "fmt"

// Method is how nitrite gets into the meat; it decides what the dose is counted on.
type Method string

// The methods of the US calculations handbook (FSIS Directive 7620.3, rev. 1995;
// formulas read in quotations, pages as there).
const (
	Dry        Method = "dry"         // rubbed on; on green meat, p. 24
	Comminuted Method = "comminuted"  // mixed into ground meat; on the green meat block, p. 15
	Pumped     Method = "pumped"      // pump as a part of green weight, p. 19
	PickedUp   Method = "picked up"   // short immersion, pick-up as a part of green weight, p. 21
	Immersed   Method = "equilibrium" // immersed until even; on green meat and pickle, p. 22
)

// SkinFactor reduces the weight that counts, and so the limit, of bacon with the
// skin on (FSIS Directive 7620.3 p. 27-31, read in a quotation).
const SkinFactor = 0.9

// An Application is where a curing salt goes. Masses are in any one unit.
type Application struct {
	Method Method
	Meat   float64 // green weight; Dry, Comminuted and Immersed
	Pickle float64 // water, salt and all; Pumped, PickedUp and Immersed
	Uptake float64 // pump or pick-up as a part of green weight, 0 to 1; Pumped and PickedUp
}

// A CuringSalt is a mixture with nitrite. Parts of its mass, 0 to 1, as printed on
// the bag: they differ between makers (6.25 %, 5.88 %, 0.6 %, 0.5 % nitrite).
type CuringSalt struct {
	Nitrite float64 // NaNO2
	Nitrate float64 // NaNO3
	Salt    float64 // NaCl
	Sugar   float64
}

// Ingoing returns the NaNO2, ppm of the weight that counts, that a mass of curing
// salt gives. It is an error when a mass or part the method needs is not positive
// or a part is above 1.
func (a Application) Ingoing(cure float64, mix CuringSalt) (float64, error) {
	basis, err := a.basis(mix)
	if err != nil {
		return 0, err
	}
	if !(cure >= 0) || !finite(cure) {
		return 0, fmt.Errorf("dose: mass of curing salt is %v, want 0 or more", cure)
	}
	return 1e6 * mix.Nitrite * cure / basis, nil
}

// CureFor returns the mass of curing salt that gives ppm of NaNO2, in the unit of
// the application. Errors as for Ingoing.
func (a Application) CureFor(ppm float64, mix CuringSalt) (float64, error) {
	basis, err := a.basis(mix)
	if err != nil {
		return 0, err
	}
	if !(ppm >= 0) || !finite(ppm) {
		return 0, fmt.Errorf("dose: target is %v ppm, want 0 or more", ppm)
	}
	return ppm * 1e-6 * basis / mix.Nitrite, nil
}

// basis is the mass that the curing salt is counted on.
func (a Application) basis(mix CuringSalt) (float64, error) {
	if err := part("nitrite in the curing salt", mix.Nitrite); err != nil {
		return 0, err
	}
	switch a.Method {
	case Dry, Comminuted:
		return a.Meat, positive("green weight", a.Meat)
	case Immersed:
		if err := positive("green weight", a.Meat); err != nil {
			return 0, err
		}
		return a.Meat + a.Pickle, positive("pickle", a.Pickle)
	case Pumped, PickedUp:
		if err := part("pump or pick-up", a.Uptake); err != nil {
			return 0, err
		}
		return a.Pickle / a.Uptake, positive("pickle", a.Pickle)
	}
	return 0, fmt.Errorf("dose: unknown method %q, want %q, %q, %q, %q or %q",
		a.Method, Dry, Comminuted, Pumped, PickedUp, Immersed)
}

func positive(what string, v float64) error {
	if v > 0 && finite(v) {
		return nil
	}
	return fmt.Errorf("dose: %s is %v, want more than 0", what, v)
}

func part(what string, v float64) error {
	if v > 0 && v <= 1 {
		return nil
	}
	return fmt.Errorf("dose: %s is %v, want a part above 0 and at most 1 (6.25 %% is 0.0625)", what, v)
}

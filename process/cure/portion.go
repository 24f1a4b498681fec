package cure

import "fmt"

// A Recipe is a cure as it is asked for: by which method, with which curing salt,
// how much nitrite and salt. Masses in g.
type Recipe struct {
	Method    Method
	Mix       CuringSalt
	PPM       float64 // NaNO2 asked, ppm of the weight that counts
	SaltPart  float64 // NaCl asked, part of green weight (Immersed: of meat and water); 0 asks for none
	WaterG    float64 // Immersed: water of the brine
	PickleG   float64 // Pumped, PickedUp: mass of the pickle, all in
	Uptake    float64 // Pumped, PickedUp: part of green weight
	MeatWater float64 // water part of the green meat: belly 0.50, loin 0.74, ham 0.65 (from memory)
}

// A Portion is what goes on one piece, or into one tub or pickle, and what comes of
// it. Skin on, 0.9 of the green weight counts (SkinFactor).
type Portion struct {
	CureG      float64 `json:"cure_g"`          // curing salt to weigh
	SaltG      float64 `json:"salt_g"`          // common salt besides it; below 0 the curing salt brings more
	NitriteG   float64 `json:"nitrite_g"`       // NaNO2 in the curing salt
	PPM        float64 `json:"ppm"`             // ingoing NaNO2
	NitratePPM float64 `json:"nitrate_ppm"`     // ingoing NaNO3
	SaltPct    float64 `json:"salt_pct"`        // NaCl, % of the green weight or, from a brine, of meat and salt when it is even
	WPSPct     float64 `json:"water_phase_pct"` // NaCl, % of salt and water of the meat, when it is even
}

// Check returns an error when the recipe cannot be worked.
func (r Recipe) Check() error {
	if err := r.Mix.Check(); err != nil {
		return err
	}
	if !(r.PPM >= 0) || !finite(r.PPM) {
		return fmt.Errorf("dose: target is %v ppm, want 0 or more", r.PPM)
	}
	if !(r.SaltPart >= 0) || r.SaltPart > 0.5 {
		return fmt.Errorf("dose: salt asked is %v, want a part from 0 to 0.5 (2.5 %% is 0.025)", r.SaltPart)
	}
	if r.Method == Immersed {
		if err := positive("water of the brine", r.WaterG); err != nil {
			return err
		}
	}
	return part("water in the meat", r.MeatWater)
}

// Asked returns the portion that gives what the recipe asks, for meat of green
// weight greenG, g.
func (r Recipe) Asked(greenG float64, skinOn bool) (Portion, error) {
	if err := r.Check(); err != nil {
		return Portion{}, err
	}
	cure, err := r.cureFor(greenG, skinOn)
	if err != nil {
		return Portion{}, err
	}
	return r.portion(greenG, cure, skinOn, CommonSalt(r.SaltPart, r.saltBasis(greenG), cure, r.Mix))
}

// Weighed returns the portion that cureG, g, of the curing salt makes, with the
// common salt that was asked.
func (r Recipe) Weighed(greenG, cureG float64, skinOn bool) (Portion, error) {
	if err := r.Check(); err != nil {
		return Portion{}, err
	}
	salt := CommonSalt(r.SaltPart, r.saltBasis(greenG), cureG, r.Mix)
	if r.PPM > 0 {
		asked, err := r.Asked(greenG, skinOn)
		if err != nil {
			return Portion{}, err
		}
		salt = asked.SaltG
	}
	return r.portion(greenG, cureG, skinOn, salt)
}

// cureFor solves for the curing salt. In a brine the pickle that counts is water,
// common salt and curing salt, and the last two depend on each other, linearly.
func (r Recipe) cureFor(greenG float64, skinOn bool) (float64, error) {
	if r.Method != Immersed {
		return r.application(greenG, 0, 0, skinOn).CureFor(r.PPM, r.Mix)
	}
	if err := positive("green weight", greenG); err != nil {
		return 0, err
	}
	meat, k := counted(greenG, skinOn), r.PPM*1e-6/r.Mix.Nitrite
	asked := r.SaltPart * r.saltBasis(greenG)
	cure := k * (meat + r.WaterG + asked) / (1 - k*(1-r.Mix.Salt))
	if r.Mix.Salt*cure > asked {
		cure = k * (meat + r.WaterG) / (1 - k)
	}
	if !(cure >= 0) || !finite(cure) {
		return 0, fmt.Errorf("dose: %v ppm cannot be reached with %.4g %% nitrite", r.PPM, 100*r.Mix.Nitrite)
	}
	return cure, nil
}

func (r Recipe) portion(greenG, cure float64, skinOn bool, salt float64) (Portion, error) {
	ppm, err := r.application(greenG, cure, salt, skinOn).Ingoing(cure, r.Mix)
	if err != nil {
		return Portion{}, err
	}
	if r.SaltPart == 0 {
		salt = 0
	}
	p := Portion{CureG: cure, SaltG: salt, NitriteG: cure * r.Mix.Nitrite, PPM: ppm, NitratePPM: ppm * r.Mix.Nitrate / r.Mix.Nitrite}
	nacl := max(0, salt) + r.Mix.Salt*cure
	switch r.Method {
	case Immersed:
		b := Brine(greenG, r.MeatWater, r.WaterG, nacl, 0)
		p.SaltPct, p.WPSPct = b.SaltPct(1), b.WaterPhaseSaltPct(1)
	case Pumped, PickedUp:
		into := nacl / r.PickleG * r.Uptake                               // of green weight
		more := r.Uptake * max(0, 1-(nacl+cure*(1-r.Mix.Salt))/r.PickleG) // water of the pickle
		p.SaltPct, p.WPSPct = 100*into, WaterPhaseSalt(into, r.MeatWater+more)
	default:
		p.SaltPct, p.WPSPct = 100*nacl/greenG, WaterPhaseSalt(nacl, r.MeatWater*greenG)
	}
	return p, nil
}

func (r Recipe) application(greenG, cure, salt float64, skinOn bool) Application {
	a := Application{Method: r.Method, Meat: counted(greenG, skinOn), Pickle: r.PickleG, Uptake: r.Uptake}
	switch r.Method {
	case Immersed:
		a.Pickle = r.WaterG + max(0, salt) + cure
	case Pumped, PickedUp:
		if skinOn {
			a.Uptake /= SkinFactor // as much pickle on less weight that counts
		}
	}
	return a
}

// saltBasis is the mass the salt target is a part of.
func (r Recipe) saltBasis(greenG float64) float64 {
	switch r.Method {
	case Immersed:
		return greenG + r.WaterG
	case Pumped, PickedUp:
		return r.PickleG / r.Uptake
	}
	return greenG
}

func counted(greenG float64, skinOn bool) float64 {
	if skinOn {
		return SkinFactor * greenG
	}
	return greenG
}

package heat

import "math"

const (
	stefanBoltzmann = 5.670374419e-8    // W/(m² K⁴), CODATA 2018
	lewis           = 0.845             // of water vapour in air
	waterOverAir    = 18.01528 / 28.966 // molar masses
	airCapacity     = 1006.0            // dry air, J/(kg K)
	vapourCapacity  = 1860.0            // water vapour, J/(kg K)
	latentAtZero    = 2.501e6           // heat of evaporation at 0 °C, J/kg
	latentFall      = 2361.0            // its fall with temperature, J/(kg K)
	maxSurfaceSteps = 100               // Newton takes 5; bisection alone 55
)

// A Surface is the outside of meat in moving air, in balance: the heat that comes
// to it evaporates water and goes inside. It is why a cook stalls. A core that
// stands still at 65 to 75 °C is not at the wet bulb: its surface is wet in parts,
// 0.1 to 0.3, and radiation warms it.
type Surface struct {
	Air      Air
	H        float64 // coefficient of convection, W/(m² K), > 0
	Wet      float64 // wet part of the surface, 0 dry to 1 wet; it falls as meat dries
	Emission float64 // emissivity times view factor, 0 for no radiation, to 1
	WallC    float64 // what radiates on it, °C; usually the dry bulb
	Inward   float64 // heat that flows on into the meat, W/m²; 0 when it is warm through
}

// Temperature is the temperature of the surface, °C. ok is false for values out of
// range and when there is no balance over 0 °C.
//
// h (Tdb - Ts) + e sigma (Tw⁴ - Ts⁴) = w Lv g + inward, with the flow of water
// g = h/(cp Le^(2/3)) (Mw/Ma) ln[(P - pv)/(P - pw(Ts))], kg/(m² s): textbook heat and
// mass transfer with Stefan flow, confirmed by an independent root finder; its
// constants are from memory. Newton kept inside a bracket, for the flow has no
// bound at the boiling point.
func (s Surface) Temperature() (tC float64, ok bool) {
	if !s.valid() {
		return 0, false
	}
	low, high := 0.0, s.highest()
	if atZero, _ := s.surplus(low); !(atZero >= 0) || !(high > low) {
		return 0, false
	}
	t := low + (high-low)/2
	for range maxSurfaceSteps {
		f, slope := s.surplus(t)
		if f > 0 {
			low = t
		} else {
			high = t
		}
		next := t - f/slope
		if f == 0 {
			return t, true
		}
		if !(next > low && next < high) {
			next = low + (high-low)/2
		}
		if math.Abs(next-t) <= 1e-10 {
			return next, true
		}
		t = next
	}
	return t, true
}

// highest is a temperature at which heat leaves the surface for sure. That of a wet
// one is the boiling point, and not the warmest thing around it: steam that
// condenses warms it further.
func (s Surface) highest() float64 {
	if boil, ok := saturatedAt(s.Air.PressurePa); ok && s.Wet > 0 {
		return boil
	}
	return max(s.Air.DryC, s.WallC) + max(0, -s.Inward/s.H) + 1
}

// surplus is the heat that comes and is not used at a temperature of the surface,
// W/m², and its derivative.
func (s Surface) surplus(tC float64) (f, slope float64) {
	t, wall := tC+zeroK, s.WallC+zeroK
	f = s.H*(s.Air.DryC-tC) + s.Emission*stefanBoltzmann*(wall*wall*wall*wall-t*t*t*t) - s.Inward
	slope = -s.H - 4*s.Emission*stefanBoltzmann*t*t*t
	if s.Wet == 0 {
		return f, slope
	}
	dry := s.Air.PressurePa - saturation(tC)
	each := s.Wet * s.H / ((airCapacity + vapourCapacity*s.Air.Humidity) * math.Pow(lewis, 2.0/3)) * waterOverAir
	flow, latent := math.Log((s.Air.PressurePa-s.Air.VapourPa())/dry), latentAtZero-latentFall*tC
	f -= each * latent * flow
	slope -= each * (latent*saturationSlope(tC)/dry - latentFall*flow)
	return f, slope
}

func (s Surface) valid() bool {
	finite := !math.IsInf(s.H, 1) && !math.IsNaN(s.Inward) && !math.IsInf(s.Inward, 0)
	return s.Air.valid() && s.H > 0 && finite && s.Wet >= 0 && s.Wet <= 1 && s.Emission >= 0 && s.Emission <= 1 &&
		s.WallC >= minMoistC && s.WallC <= maxMoistC
}

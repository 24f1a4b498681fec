package lethality

import "math"

// A Target says which organism is to be killed and how fast heat does it: the
// Bigelow law D(T) = DRefMin * 10^((RefC-T)/z), a textbook formula. Below RefC the
// smaller z is the stricter, above it the larger, so z may change there.
type Target struct {
	Name    string
	RefC    float64 // reference temperature, °C
	ZC      float64 // kelvin for a tenfold change of rate, > 0
	ZAboveC float64 // the same above RefC when it differs; 0 is ZC
	DRefMin float64 // minutes for one decimal reduction at RefC, > 0
	FloorC  float64 // below it no credit, °C
	CapC    float64 // above it the credit of the cap, °C; at least FloorC
	Source  string
}

// Salmonella returns the default target for meat.
//
// z = 50/9 K (10 °F) is the best reading of the 6.5-log column of the federal
// table (FSIS-GD-2021-14, Table 2, seen): it reproduces 21 of its 28 rows by
// rounding and 7 rounded up (computed). D at 60 °C is 1.951 min, the smallest that
// asks at least as much as every row of that column (computed; the row at 142 °F
// decides, the best fit would be 1.728). Floor and cap are choices of this
// project: below 54.44 °C the table has no row, and the cap keeps one wrong hot
// sample from deciding.
func Salmonella() Target {
	return Target{
		Name: "Salmonella in meat, D60 1.951 min, z 5.56 K, credit from 54.44 to 70 °C",
		RefC: 60, ZC: 50.0 / 9, DRefMin: 1.951, FloorC: 54.44, CapC: 70,
		Source: "FSIS-GD-2021-14 Table 2, 6.5-log column; slope and D computed from it",
	}
}

// Rate returns the lethal rate at tempC: minutes at RefC that one minute at tempC
// is worth. It is 0 below the floor and for a value that is no number, and that
// of the cap above the cap.
func (t Target) Rate(tempC float64) float64 {
	if !(tempC >= t.FloorC) {
		return 0
	}
	return t.rate(min(tempC, t.CapC))
}

// rate is the law without floor and cap.
func (t Target) rate(tempC float64) float64 {
	return math.Exp((tempC - t.RefC) * math.Ln10 / t.slope(tempC))
}

// slope is the z that holds at tempC.
func (t Target) slope(tempC float64) float64 {
	if tempC > t.RefC && t.ZAboveC > 0 {
		return t.ZAboveC
	}
	return t.ZC
}

// LogReduction returns the decimal reductions that fMin minutes at RefC give.
func (t Target) LogReduction(fMin float64) float64 { return fMin / t.DRefMin }

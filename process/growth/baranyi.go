package growth

import "math"

// A Population says where growth starts and where it ends, log10 of the count per
// gram. A growth model for decisions mostly leaves the end out: Unlimited.
type Population struct {
	StartLog, MaxLog float64
}

// Unlimited is growth that never reaches its end.
func Unlimited() Population { return Population{MaxLog: math.Inf(1)} }

// far is where e^x still fits a float64 with room to spare.
const far = 600

// DeltaLog returns the decimal growth that the summed rate m (natural-log units,
// Sum.M) gives after a lag h0, in a population: at least 0, at most what lies
// between start and maximum.
//
// Baranyi and Roberts 1994 (equations read in documents of several packages),
// integrated in closed form because only the rate varies with time: with
// h0 = ln(1 + 1/q0), A = ln(1 + (e^m - 1) e^-h0), and the growth is
// (A - ln(1 + r (e^A - 1)))/ln 10, r the start as a part of the maximum. A test
// compares it with the differential equations, solved in steps.
func DeltaLog(m, h0 float64, p Population) float64 {
	if !(m > 0) {
		return 0
	}
	adjusted := m - h0
	if m < far {
		adjusted = math.Log1p(math.Expm1(m) * math.Exp(-h0))
	}
	r := math.Pow(10, min(0, p.StartLog-p.MaxLog))
	if r == 0 {
		return max(0, adjusted/math.Ln10)
	}
	if adjusted > far {
		return -math.Log10(r)
	}
	return max(0, (adjusted-math.Log1p(r*math.Expm1(adjusted)))/math.Ln10)
}

// DeltaLog returns the decimal growth so far by the model's deciding lag, without
// an end to growth.
func (s Sum) DeltaLog(m *Model) float64 { return DeltaLog(s.M, m.Decides.H0, Unlimited()) }

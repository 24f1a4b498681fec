package hold

import "math"

// ActivationK is the heat of activation over the gas constant, K: 83.144 kJ/mol by
// 8.3144 J/(mol K), the constants of the pharmacopoeia USP (from memory).
const ActivationK = 10000.0

// maxStepK is the widest piece of a straight line that is integrated at once: with
// three points of Gauss the error of a piece is under 1e-9 of it.
const maxStepK = 0.5

// A Sample is one reading of the air.
type Sample struct {
	H float64 // hours from any start
	C float64 // °C
}

// MeanKinetic is the mean kinetic temperature of readings that stand for equal
// times, °C: the constant temperature at which a chemical decay would have come as
// far. It was made for drugs. It is reported beside the record and decides nothing:
// bacteria follow other laws. ok is false without readings or with one that is no
// temperature.
//
// T = (dH/R)/(-ln mean exp(-dH/(R T))), T in K.
func MeanKinetic(readingsC []float64) (tC float64, ok bool) {
	var m mean
	for _, c := range readingsC {
		m.add(c, 1)
	}
	return m.kinetic()
}

// MeanKineticLine is MeanKinetic of air that goes straight from sample to sample, in
// order of time. ok is false also when time does not go on.
func MeanKineticLine(samples []Sample) (tC float64, ok bool) {
	var m mean
	for i := 1; i < len(samples); i++ {
		a, b := samples[i-1], samples[i]
		if !(b.H > a.H) || !finite(a.H, b.H, a.C, b.C) {
			return 0, false
		}
		pieces := max(1, math.Ceil(math.Abs(b.C-a.C)/maxStepK))
		if pieces > maxPieces {
			return 0, false
		}
		for k := range int(pieces) {
			m.addLine(a.C+(b.C-a.C)*float64(k)/pieces, a.C+(b.C-a.C)*float64(k+1)/pieces, (b.H-a.H)/pieces)
		}
	}
	return m.kinetic()
}

// maxPieces bounds the work of one segment; no air moves 1000 K.
const maxPieces = 2000

// A mean gathers rates of decay, relative to that at 0 °C so that none is lost in
// the smallness of exp(-36).
type mean struct {
	rate, time float64
	bad        bool
}

func (m *mean) add(c, weight float64) {
	if !(c > -zeroK) || math.IsInf(c, 1) {
		m.bad = true
	}
	m.rate += weight * math.Exp(ActivationK/zeroK-ActivationK/(c+zeroK))
	m.time += weight
}

// addLine adds a straight line by three points of Gauss and Legendre.
func (m *mean) addLine(from, to, weight float64) {
	const out = 0.7745966692414834 // sqrt(3/5)
	middle, half := (from+to)/2, (to-from)/2
	m.add(middle-out*half, weight*5/18)
	m.add(middle, weight*8/18)
	m.add(middle+out*half, weight*5/18)
}

func (m *mean) kinetic() (tC float64, ok bool) {
	if m.bad || !(m.time > 0) {
		return 0, false
	}
	return ActivationK/(ActivationK/zeroK-math.Log(m.rate/m.time)) - zeroK, true
}

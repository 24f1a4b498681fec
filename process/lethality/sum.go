package lethality

// A Sum is the lethality earned so far by one probe. Its zero value is empty.
type Sum struct {
	FMin     float64 `json:"f_min"`     // minutes at the target's reference temperature
	LowerMin float64 `json:"lower_min"` // the same by the colder end of each segment
	WeakMin  float64 `json:"weak_min"`  // the part of FMin earned below WeakC
	GapMin   float64 `json:"gap_min"`   // minutes that earned nothing for want of data
}

// WeakC is the temperature, °C, below which the credit is weakly supported: at
// 54.4 °C the published times were not found comparable, from 60 to 71 °C they
// were (McMinn et al. 2018, Meat Muscle Biol. 2:168, abstract, seen). Where to draw
// the line between them is a choice of this project.
const WeakC = 57

// Weak reports whether more than half of the credit came from below WeakC.
func (s Sum) Weak() bool { return s.WeakMin > s.FMin/2 }

// Add adds a straight line from v1 to v2 (°C) over dtMin minutes. Take the
// uncertainty of the probe off both values before. A segment longer than
// gapMaxMin minutes, or with an end that is no finite number, is a gap: it earns
// nothing and is counted as such. Three sample periods, at least 5 min, is this
// project's choice for gapMaxMin; math.Inf(1) means no limit.
func (s *Sum) Add(t Target, v1, v2, dtMin, gapMaxMin float64) {
	if !(dtMin > 0) {
		return
	}
	if !(dtMin <= gapMaxMin) || !usable(v1, v2, dtMin) {
		s.GapMin += dtMin
		return
	}
	s.FMin += t.Segment(v1, v2, dtMin)
	s.WeakMin += t.below(v1, v2, dtMin, WeakC)
	s.LowerMin += t.Lower(v1, v2, dtMin)
}

package heat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The fan asks each temperature on the way what OutlookIn asks of one: they agree, also
// where part of the pieces never come to the target.
func TestTheFanIsTheOutlookOfEachStep(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	minutes, _ := someRoast(r).cook(r, 240)
	e := NewCookEnsemble(0)
	if e.Fan(71, 110, 4) != nil {
		t.Error("a fan before the first minute")
	}
	for _, m := range minutes[:120] {
		e.Advance(m)
	}
	never := 0
	for _, chamber := range []float64{75, 110} {
		bands := e.Fan(71, chamber, 5)
		if len(bands) != 5 || bands[4].C != 71 {
			t.Fatalf("chamber %g: %+v", chamber, bands)
		}
		for i, b := range bands {
			o, ok := e.OutlookIn(b.C, chamber, true) // stalled: the point is the median
			if !ok {
				t.Fatalf("no outlook for %g", b.C)
			}
			for name, pair := range map[string][2]ETA{"early": {b.Early, o.Early}, "likely": {b.Likely, o.Point}, "late": {b.Late, o.Late}} {
				if pair[0].Never != pair[1].Never || math.Abs(pair[0].Min-pair[1].Min) > max(2, pair[1].Min/100) { // a piece notes whole degrees
					t.Errorf("chamber %g, %.1f °C: %s %+v, the outlook says %+v", chamber, b.C, name, pair[0], pair[1])
				}
			}
			if b.Late.Never {
				never++
			}
			if i > 0 && (b.Early.Min < bands[i-1].Early.Min && !b.Early.Never || b.Early.Min > b.Likely.Min && !b.Likely.Never) {
				t.Errorf("chamber %g: out of order at %.1f °C: %+v", chamber, b.C, b)
			}
		}
	}
	if never == 0 {
		t.Error("no step was never reached: the test tests less than it says")
	}
	if e.Fan(-5, 110, 4) != nil || e.Fan(math.NaN(), 110, 4) != nil || e.Fan(71, 110, 0) != nil {
		t.Error("a fan to where the core is, or to no number")
	}
}

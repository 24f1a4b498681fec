package process

import (
	"testing"
	"time"
)

// A sensor of a cold place that is turned over to Fahrenheit is not believed; what a
// probe may truly say is.
func TestTurnedOverToFahrenheit(t *testing.T) {
	for _, c := range []struct {
		name          string
		of            Placement
		before, value float64
		refused       bool
	}{
		{"product", Product, 3.8, 38.8, true},
		{"air at the other end of its swing", Air, 2.5, 39, true},
		{"freezer", Product, -18, -0.4, true},
		{"taken out into a warm room", Product, 3.8, 24, false},
		{"dipped in hot water", Product, 3.8, 48, false},
		{"near the crossing of both, no step", Product, -38, -36.4, false},
		{"a fire is believed", Chamber, 100, 212, false},
		{"a core that was pulled is another's to tell", Core, 4, 39.2, false},
	} {
		at := time.Date(2031, 4, 22, 15, 0, 0, 0, time.UTC)
		var v Sieve
		v.take(refusal{Sample: Sample{at, c.before}}, PlacedProbe{Placement: c.of}, 0)
		for range 5 {
			at = at.Add(5 * time.Minute)
			_, refused := v.take(refusal{Sample: Sample{at, c.value}}, PlacedProbe{Placement: c.of}, 0)
			if (len(refused) > 0) != c.refused {
				t.Errorf("%s: refused %v", c.name, refused)
			}
		}
		at = at.Add(5 * time.Minute)
		if believed, refused := v.take(refusal{Sample: Sample{at, c.before}}, PlacedProbe{Placement: c.of}, 0); c.refused && (len(believed) != 1 || len(refused) != 0) {
			t.Errorf("%s: back again, believed %v, refused %v", c.name, believed, refused)
		}
	}
}

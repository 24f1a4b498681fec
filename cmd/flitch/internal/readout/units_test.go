package readout

import (
	"math"
	"strings"
	"testing"

	"flitch/process"
)

func TestUnits(t *testing.T) {
	for _, c := range []struct {
		place       process.Placement
		value, unit string
		want        float64
	}{
		{process.Core, "61.5", "C", 61.5}, {process.Core, "142.7", "°F", 61.5}, {process.Air, "276.15", "k", 3}, {process.Core, "-4", "f", -20},
		{process.Weight, "1890", "g", 1890}, {process.Weight, "1.89", "kg", 1890}, {process.Weight, "5", "LB", 2267.96185}, {process.Weight, "80", "oz", 2267.96185}, {process.Weight, "2000", "mg", 2},
		{process.Humidity, "55", "%", 55}, {process.Humidity, "55", "% RH", 55},
		{process.Door, "1", "", 1}, {process.Door, "0", "", 0},
		{process.Power, "120", "W", 120}, {process.Power, "0.12", "kW", 120}, {process.Power, "1", "", 1}, {process.Power, "0", "", 0},
	} {
		got, err := Value(c.place, c.value, c.unit)
		if err != nil || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s %s %q: %v, %v; want %v", c.place, c.value, c.unit, got, err, c.want)
		}
	}
}

// What has another unit, or none, is refused with what to write.
func TestOtherUnitsAreRefused(t *testing.T) {
	for _, c := range []struct {
		place       process.Placement
		value, unit string
		say         string
	}{
		{process.Core, "61", "", "C, F or K"}, {process.Core, "61", "%", "C, F or K"}, {process.Core, "61", "R", "C, F or K"},
		{process.Weight, "61", "", "g, kg, lb, oz or mg"}, {process.Weight, "61", "C", "g, kg, lb, oz or mg"}, {process.Weight, "61", "t", "g, kg, lb, oz or mg"},
		{process.Humidity, "0.5", "", "write %"}, {process.Humidity, "0.5", "C", "write %"}, {process.Humidity, "0.5", "g/m3", "write %"},
		{process.Door, "1", "V", "1 for open or 0 for closed"}, {process.Door, "2", "", "1 for open or 0 for closed"},
		{process.Power, "120", "", "W or kW"}, {process.Power, "120", "A", "W or kW"},
		{process.Core, "7_0", "C", "61.5"}, {process.Core, "0x40", "C", "61.5"}, {process.Core, "Inf", "C", "61.5"}, {process.Core, "NaN", "C", "61.5"}, {process.Core, "", "C", "61.5"},
	} {
		if got, err := Value(c.place, c.value, c.unit); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s %q %q: %v, %v; want %q said", c.place, c.value, c.unit, got, err, c.say)
		}
	}
}

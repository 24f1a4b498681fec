package plain

import "testing"

func TestNumber(t *testing.T) {
	for text, want := range map[string]float64{"61.5": 61.5, "-0.5": -0.5, "+4": 4, ".5": 0.5, "5.": 5, "5e-11": 5e-11, "1E3": 1000, "007": 7} {
		if got, ok := Number(text); !ok || got != want {
			t.Errorf("%q is %v, %v", text, got, ok)
		}
	}
	for _, text := range []string{"", " ", "7_0", "0x10", "0x1p-2", "0b11", "Inf", "-inf", "infinity", "NaN", "nan", "1e999", "6,5", "6 5", " 6", "e", "1e", "٣"} {
		if got, ok := Number(text); ok {
			t.Errorf("%q passed for %v", text, got)
		}
	}
}

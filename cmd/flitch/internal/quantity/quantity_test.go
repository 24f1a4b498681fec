package quantity

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// Conversions: pound 453.59237 g and inch 25.4 mm are exact by definition (NIST
// Special Publication 811, appendix B, from memory); 142 F and 61.5 C by hand.
func TestQuantities(t *testing.T) {
	kinds := map[string]func(string) (float64, error){
		"weight": Weight, "length": Length, "temperature": Temperature,
	}
	for _, c := range []struct {
		kind, text string
		want       float64
	}{
		{"weight", "2268g", 2268}, {"weight", "2.268 kg", 2268}, {"weight", "5lb", 2267.962}, {"weight", "80OZ", 2267.962},
		{"weight", " +.5kg ", 500}, {"weight", "5.LB", 2267.962},
		{"length", "38mm", 38}, {"length", "3.8cm", 38}, {"length", "1.5in", 38.1},
		{"temperature", "61.5C", 61.5}, {"temperature", "142F", 61.111}, {"temperature", "-18c", -18},
		{"temperature", "61.5 °C", 61.5}, {"temperature", "0C", 0}, {"temperature", "335K", 61.85},
	} {
		got, err := kinds[c.kind](c.text)
		if err != nil || math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s %q is %v, %v; want %v", c.kind, c.text, got, err, c.want)
		}
	}
}

func TestQuantitiesRefused(t *testing.T) {
	kinds := map[string]func(string) (float64, error){
		"weight": Weight, "length": Length, "temperature": Temperature,
	}
	for _, c := range []struct{ kind, text, what, try string }{
		{"weight", "2,268kg", "decimal comma", "2.268kg"},
		{"weight", "2268", "no unit", "2268g"},
		{"weight", "0g", "above zero", "2268g"},
		{"weight", "-5lb", "above zero", "2268g"},
		{"weight", "5stone", "not a unit", "lb"},
		{"weight", "heavy", "not a number", "2268g"},
		{"weight", "", "not a number", "2268g"},
		{"weight", "1e3g", "not a number", "2268g"},
		{"weight", "1" + strings.Repeat("0", 400) + "g", "too large", "smaller"},
		{"length", "38", "no unit", "38mm"},
		{"length", "1.5\"", "not a unit", "in"},
		{"length", "0.0mm", "above zero", "38mm"},
		{"temperature", "61,5C", "decimal comma", "61.5C"},
		{"temperature", "142", "no unit", "142C or 142F"},
		{"temperature", "900C", "900 °C", "400C"},
		{"temperature", "NaNC", "not a number", "61.5C"},
	} {
		_, err := kinds[c.kind](c.text)
		wrong, ok := errors.AsType[*Complaint](err)
		if !ok || !wrong.Usage || !strings.Contains(wrong.What, c.what) || !strings.Contains(wrong.Try, c.try) {
			t.Errorf("%s %q: %v; want %q and try %q", c.kind, c.text, err, c.what, c.try)
		}
	}
}

// FuzzQuantities: what is accepted is a number a batch can be computed from;
// what is refused says what to try.
func FuzzQuantities(f *testing.F) {
	for _, text := range []string{"2268g", "5lb", "1.5in", "-18C", "142F", "2,268kg", "1e9kg", ".g", "٣g", "61.5 °C"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		for _, parse := range []func(string) (float64, error){Weight, Length, Temperature} {
			value, err := parse(text)
			if wrong, ok := errors.AsType[*Complaint](err); err != nil && (!ok || wrong.Try == "") {
				t.Errorf("%q: no hint in %v", text, err)
			}
			if math.IsNaN(value) || math.IsInf(value, 0) {
				t.Errorf("%q is %v", text, value)
			}
		}
	})
}

package web

import (
	"context"
	"testing"
)

// Whatever is typed: a form is refused with something beside a field, or it is a batch
// whose pieces have names, weights and thicknesses, with a dose if its plan asks for one.
func FuzzBeginForm(f *testing.F) {
	f.Add("A", "2268", "38", "", "6.25", "156", "us", "bag", "", "", "")
	f.Add("A", "5lb", "1.5in", "5,7", "6,25", "", "none", "", "", "", "")
	f.Add("B+C", "2,268kg", "-1", "1 tbsp", "0.0625", "1e400", "x", "immersion", "1.5kg", "5kg", "10")
	f.Add("", "NaN", "Inf", "0x10", "%", "ppm", "canada", "pumped", "", "g", "%%")
	choices, err := (&house{}).Choices(context.Background())
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, name, weight, thick, recipe, nitrite, ppm, rule, method, brine, pickle, pump string) {
		form := typedBegin(belly(map[string]string{"piece-0": name, "weight-0": weight, "thick-0": thick, "recipe-0": recipe, "nitrite": nitrite, "ppm": ppm,
			"rule": rule, "method": method, "brine": brine, "pickle": pickle, "pump": pump}))
		b := form.read(choices)
		if len(form.Wrong) > 0 {
			return
		}
		seen := map[string]bool{}
		for _, p := range b.Request.Pieces {
			if p.Name == "" || seen[p.Name] || !(p.GreenG > 0) || !(p.ThicknessMM > 0) {
				t.Errorf("a slab %+v", p)
			}
			seen[p.Name] = true
		}
		if a := b.Request.Asked; len(seen) == 0 || a == nil || b.Doses == nil || !(a.Nitrite > 0 && a.Nitrite < 1) || !(a.PPM > 0) && len(a.Portions) == 0 {
			t.Errorf("%d slabs, asked %+v", len(seen), a)
		}
	})
}

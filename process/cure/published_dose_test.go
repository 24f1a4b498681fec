package cure

import (
	"math"
	"testing"

	"flitch/testdata/published"
)

func ppm(t *testing.T, a Application, cure, nitrite float64) float64 {
	t.Helper()
	v, err := a.Ingoing(cure, CuringSalt{Nitrite: nitrite})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func grams(t *testing.T, a Application, ppm, nitrite float64) float64 {
	t.Helper()
	v, err := a.CureFor(ppm, CuringSalt{Nitrite: nitrite})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// checkDosing works every row of the table. D18 is no dose but compares two salts by
// the spoon.
func checkDosing(c *published.Check) {
	t := c.T
	dry := func(meat float64) Application { return Application{Method: Dry, Meat: meat} }
	strong := CuringSalt{Nitrite: 0.0625, Salt: 0.9375}
	d02 := grams(t, dry(2268), 120, 0.0625)
	d13 := Brine(2000, 0.74, 1500, 70, 0)
	got := map[string]float64{
		"D01": ppm(t, dry(1), 0.0025, 0.0625),
		"D02": d02,
		"D03": CommonSalt(0.025, 2268, d02, strong),
		"D04": ppm(t, dry(1), 0.025, 0.005),
		"D05": -100 * CommonSalt(0, 1, 0.025, CuringSalt{Nitrite: 0.005, Salt: 0.995}),
		"D06": grams(t, dry(1000), 150, 0.006),
		"D07": ppm(t, dry(1), 0.0025, 0.0625),
		"D08": ppm(t, dry(1), 0.0025, 0.04), // the same formula with the nitrate part
		"D09": ppm(t, dry(453.592), 15, 0.005),
		"D10": ppm(t, dry(453.592), 18, 0.005),
		"D11": CommonSalt(0.02, 3500, 0, strong),
		"D12": grams(t, Application{Method: Immersed, Meat: 2000, Pickle: 1500}, 120, 0.0625),
		"D13": d13.SaltKgPerKg,
		"D14": d13.SaltPct(1),
		"D15": NitriteIon(120),
		"D16": SodiumNitrite(80),
		"D17": NitrateIon(150),
		"D18": spoonful(t, "fine table salt") / spoonful(t, "hollow flake salt"),
		"D19": WaterPhaseSalt(2, 45),
		"D20": SaltForWaterPhase(3.5, 50),
		"D21": ppm(t, Application{Method: Pumped, Pickle: 150, Uptake: 0.10}, 3, 0.0625),
	}
	for _, row := range c.Rows {
		id := row.Text(t, "id")
		v, known := got[id]
		if !known {
			t.Errorf("%s: no calculation for %s", row.Where(), id)
			continue
		}
		c.Near(row, "value", v)
	}
}

func spoonful(t *testing.T, salt string) float64 {
	t.Helper()
	for _, s := range Spoonfuls() {
		if s.Salt == salt {
			return s.Grams
		}
	}
	t.Fatalf("no spoonful of %s", salt)
	return 0
}

// checkWorked works the examples with a number on the exact result of each; what
// their authors printed must be that, rounded or cut by them.
func checkWorked(c *published.Check) {
	for _, row := range c.Rows {
		c.Near(row, "exact_result", worked(c, row))
		exact, printed := row.Num(c.T, "exact_result"), row.Num(c.T, "printed_result")
		if math.Abs(exact-printed) > 0.01*exact {
			c.T.Errorf("%s: printed %v is not the exact %v, rounded", row.Where(), printed, exact)
		}
	}
}

func worked(c *published.Check, row published.Row) float64 {
	t := c.T
	nitrite, mass := row.Num(t, "nitrite_fraction"), row.NumOr(t, "source_mass", 0)
	a := Application{Method: Dry, Meat: row.NumOr(t, "meat_green_mass", 0)}
	if row.Text(t, "pump_or_pickup_fraction") != "" {
		a = Application{Method: Pumped, Pickle: row.Num(t, "pickle_mass"), Uptake: row.Num(t, "pump_or_pickup_fraction")}
	}
	if row.Text(t, "source_unit") == "oz" {
		mass /= 16 // the meat is in pounds
	}
	switch q := row.Text(t, "question"); q {
	case "ppm?":
		return ppm(t, a, mass, nitrite)
	case "grams nitrite?":
		return ppm(t, a, mass, nitrite) * 1e-6 * a.Meat
	case "g cure for 156 ppm?":
		return grams(t, a, 156, nitrite)
	case "g cure for 100 ppm in 1 gal?":
		return grams(t, a, 100, nitrite)
	case "lb nitrite for 120 ppm?":
		return grams(t, a, 120, nitrite)
	case "percent for 200 ppm?":
		return grams(t, a, 200, nitrite)
	default:
		t.Fatalf("%s: no calculation for %q", row.Where(), q)
		return 0
	}
}

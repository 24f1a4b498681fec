package cure

import (
	"strconv"

	"flitch/testdata/published"
)

func number(c *published.Check, row published.Row, text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		c.T.Fatalf("%s: %v", row.Where(), err)
	}
	return v
}

// A whole cure of the table: piece, bath, and what the temperature did.
type cureCase struct {
	cut        Cut
	bath       Bath
	path       float64
	tau, decay float64
}

func caseOf(c *published.Check, row published.Row) cureCase {
	num := func(column string) float64 { return row.Num(c.T, column) }
	shape := shapeOf(c, row)
	k := cureCase{path: Path(shape, num("thickness_or_diameter_m"), num("sides") == 1)}
	meat, water, liquid := num("meat_g"), num("water_frac"), num("purge_or_brine_water_g")
	switch b := row.Text(c.T, "boundary"); b {
	case "bag":
		k.bath = Bag(meat, water, liquid, num("salt_g"), num("nitrite_mg"))
	case "brine":
		k.bath = Brine(meat, water, liquid, num("salt_g"), num("nitrite_mg"))
	case "saturated":
		k.bath = SaltBox(water)
	default:
		c.T.Fatalf("%s: unknown boundary %q", row.Where(), b)
	}
	k.cut = Cut{shape, k.bath.Alpha}
	k.tau, k.decay = history(row.Series(c.T, "series_h_C"), k.path)
	return k
}

func checkCases(c *published.Check) {
	for _, row := range c.Rows {
		k := caseOf(c, row)
		centre, mean := k.cut.Centre(k.tau), k.cut.Mean(k.tau)
		c.Near(row, "alpha", k.bath.Alpha)
		c.Near(row, "tau", k.tau)
		c.Near(row, "F_centre", centre)
		c.Near(row, "M_mean_uptake", mean)
		c.Near(row, "c_inf_kg_per_kg_water", k.bath.SaltKgPerKg)
		c.Near(row, "centre_wps_pct", k.bath.WaterPhaseSaltPct(centre))
		c.Near(row, "centre_salt_pct", k.bath.SaltPct(centre))
		c.Near(row, "mean_salt_pct", k.bath.SaltPct(mean))
		c.Near(row, "centre_nitrite_ppm_no_decay", k.bath.NitritePPM(centre))
		c.Near(row, "centre_nitrite_ppm_residual", k.bath.NitritePPM(centre)*NitriteLeft(k.decay))
		if row.Text(c.T, "tau90") != "" {
			c.Near(row, "tau90", k.cut.TauFor(DefaultFraction))
		}
	}
}

func checkHoursLeft(c *published.Check) {
	for _, row := range c.Rows {
		if row.Text(c.T, "tau90") == "" { // a salt box is not judged by the centre
			continue
		}
		k, series := caseOf(c, row), row.Series(c.T, "series_h_C")
		f := k.cut.Finish(DefaultFraction, k.tau, k.path, series[len(series)-1].Value)
		c.Near(row, "remaining_h_to_90", f.Hours)
		c.Near(row, "remaining_h_if_D_x1.67", f.Earliest)
		c.Near(row, "remaining_h_if_D_over_1.67", f.Latest)
	}
}

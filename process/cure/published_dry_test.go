package cure

import (
	"math"

	"flitch/testdata/published"
)

func checkThumbs(c *published.Check) {
	for _, row := range c.Rows {
		p, temp := pieceOf(c, row), row.Num(c.T, "temp_C")
		days := row.Num(c.T, "rule_days")
		if grain := row.Text(c.T, "grain"); grain != "given days" {
			t := Thumb{Grain: Grain(grain), Amount: row.Num(c.T, "amount"), Plus: row.Num(c.T, "plus")}
			got := p.Compare(t, DefaultFraction, temp)
			c.Near(row, "rule_days", got.RuleDays)
			c.Near(row, "centre_fraction", got.Centre)
			continue
		}
		c.Near(row, "centre_fraction", p.Cut.Centre(Tau(temp, temp, 24*days, p.path())))
	}
}

func checkThumbDays(c *published.Check) {
	for _, row := range c.Rows {
		p, temp := pieceOf(c, row), row.Num(c.T, "temp_C")
		for column, fraction := range map[string]float64{"days_F80": 0.80, "days_F90": 0.90, "days_F95": 0.95} {
			c.Near(row, column, p.Cut.Finish(fraction, 0, p.path(), temp).Hours/24)
		}
	}
}

func pieceOf(c *published.Check, row published.Row) Piece {
	return Piece{
		Cut:        Cut{shapeOf(c, row), row.Num(c.T, "alpha")},
		ThicknessM: row.Num(c.T, "thickness_m"), SkinOn: row.Num(c.T, "sides") == 1, GreenG: row.NumOr(c.T, "weight_g", 0),
	}
}

// checkPractice holds the models inside what the trade does, without a source.
func checkPractice(c *published.Check) {
	bath := Bag(2268, 0.5, DefaultPurge*2268, 56.7, 0)
	belly := Piece{Cut: Cut{Slab, bath.Alpha}, ThicknessM: 0.0381, GreenG: 2268}
	day5 := Tau(4, 4, 5*24, belly.path())
	spoon := func(g float64) float64 { return ppm(c.T, Application{Method: Dry, Meat: pound}, g, 0.005) }
	got := map[string]float64{
		"days to centre fraction 0.90 at 4 C": belly.Cut.Finish(DefaultFraction, 0, belly.path(), 4).Hours / 24,
		"centre fraction on day 5 at 4 C":     belly.Cut.Centre(day5),
		"mean uptake on day 5 at 4 C":         belly.Cut.Mean(day5),
		"ppm nitrite of 15 g on a pound":      spoon(15),
		"ppm nitrite of 18 g on a pound":      spoon(18),
	}
	for _, row := range c.Rows {
		v, known := got[row.Text(c.T, "quantity")]
		low, high := row.Num(c.T, "low"), row.Num(c.T, "high")
		c.Holds(row, known && v >= low && v <= high, "%v is outside %v to %v", v, low, high)
	}
}

func dryingOf(c *published.Check, row published.Row) Drying {
	return Drying{PathM: Path(Slab, row.Num(c.T, "thickness_m"), row.Num(c.T, "sides") == 1), Limit: row.Num(c.T, "L_inf")}
}

func checkDrying(c *published.Check) {
	for _, row := range c.Rows {
		d, days := dryingOf(c, row), row.Num(c.T, "days")
		d.D = row.Num(c.T, "Dw_m2_s")
		c.Near(row, "tau_w", d.tau(days))
		c.Near(row, "U", d.Loss(days)/d.Limit)
		c.Near(row, "loss_frac", d.Loss(days))
	}
}

func checkDryingFit(c *published.Check) {
	for _, row := range c.Rows {
		d := dryingOf(c, row)
		loss := row.Num(c.T, "loss_then")
		f, err := d.Forecast([]Weighing{{row.Num(c.T, "weighed_at_days"), loss}}, row.Num(c.T, "target_loss"))
		if err != nil {
			c.T.Fatal(err)
		}
		c.Near(row, "tau_w", DryingTau(loss/d.Limit))
		c.Near(row, "fitted_Dw", f.Fits[0])
		c.Near(row, "days_to_target_from_start", f.Days)
	}
}

func checkBrineActivity(c *published.Check) {
	for _, row := range c.Rows {
		m := molalityOf(c, row)
		c.Near(row, "molality", m)
		c.Near(row, "wps_pct", WaterPhaseSaltOf(m))
		c.Near(row, "osmotic_coefficient", Osmotic(m))
		c.Near(row, "aw", BrineActivity(m))
	}
}

func checkPrintedActivity(c *published.Check) {
	for _, row := range c.Rows {
		c.Near(row, "aw", BrineActivity(molalityOf(c, row)))
	}
}

func molalityOf(c *published.Check, row published.Row) float64 {
	if row.Text(c.T, "input_kind") == "wps_pct" {
		return Molality(row.Num(c.T, "input"))
	}
	return row.Num(c.T, "input")
}

func checkProductActivity(c *published.Check) {
	for _, row := range c.Rows {
		num := func(column string) float64 { return row.Num(c.T, column) }
		a, err := Product{
			Water: num("water_frac_fresh"), Protein: num("protein_frac_fresh"), Salt: num("salt_frac_fresh"),
			Sucrose: num("sucrose_frac_fresh"), Loss: num("loss_frac"),
		}.Activity()
		if err != nil {
			c.T.Fatal(err)
		}
		c.Near(row, "solvent_water", a.SolventWater)
		c.Near(row, "molality_NaCl", a.Molality)
		c.Near(row, "wps_pct", a.WPSPct)
		c.Near(row, "aw_product", a.AW)
	}
}

func checkBox(c *published.Check) {
	for _, row := range c.Rows {
		tau, thick := row.Num(c.T, "tau_on_thickness"), row.Num(c.T, "thickness_m")
		slab := Cut{Slab, math.Inf(1)}
		centre, mean := Box(tau, row.Num(c.T, "width_m")/thick, row.Num(c.T, "length_m")/thick)
		c.Near(row, "F_centre_1D", slab.Centre(tau))
		c.Near(row, "F_centre_3D_product", centre)
		c.Near(row, "M_1D", slab.Mean(tau))
		c.Near(row, "M_3D_product", mean)
	}
}

func checkDecaying(c *published.Check) {
	for _, row := range c.Rows {
		alpha, kappa, tau := row.Num(c.T, "alpha"), row.Num(c.T, "k_l2_over_D"), row.Num(c.T, "tau")
		centre, mean := Decaying{alpha, kappa}.Profile(tau)
		c.Near(row, "centre_decay_in_meat_only_FV", centre)
		c.Near(row, "mean_decay_in_meat_only_FV", mean)
		c.Near(row, "centre_uniform_decay_formula", Cut{Slab, alpha}.Centre(tau)*NitriteLeft(kappa*tau))
	}
}

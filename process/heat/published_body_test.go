package heat

import (
	"math"
	"strconv"
	"strings"

	"flitch/testdata/published"
)

func checkBodies(r *published.Report) {
	r.Check("thermal properties", "choi_okos.csv", published.Rel(1e-6), checkProperties)
	r.Check("one-term roots and coefficients", "heisler_one_term.csv", published.Abs(1e-6), checkOneTerm)
	r.Check("one-term roots and coefficients, second table", "biot_coefficients.csv", published.Abs(1e-7), checkBiot)
	r.Check("one-term coefficients as printed", "biot_textbook.csv", published.Abs(5.1e-5), checkOneTerm)
	r.Check("series of slab, cylinder and sphere", "heisler_series.csv", published.Abs(1e-6), checkSeries)
	r.Check("time to heat and cool pieces", "heat_time_examples.csv", published.Rel(1e-6), checkHeatTimes)
	r.Check("fastest change of a centre", "max_center_rate.csv", published.Abs(1e-3), checkSteepest)
	r.Check("fastest change of a core, to the printed digits", "core_ceiling.csv", published.Tolerance{}, checkCeiling)
	r.Check("time constant of a product", "product_tau.csv", published.Abs(5.1e-3), checkProductTau)
	r.Check("time constant of a product, short formula", "product_tau.csv", published.Rel(1.5e-2), checkResponse)
}

func shapeOf(c *published.Check, row published.Row) Shape {
	shape, ok := map[string]Shape{"slab": Slab, "cyl": Cylinder, "sph": Sphere}[row.Text(c.T, "geometry")]
	if !ok {
		c.T.Fatalf("%s: unknown geometry", row.Where())
	}
	return shape
}

func checkProperties(c *published.Check) {
	for _, row := range c.Rows {
		p, ok := compositionOf(c, row).At(row.Num(c.T, "T_C"))
		if !ok {
			c.T.Errorf("%s: no properties", row.Where())
		}
		c.Near(row, "rho_kg_m3", p.Density)
		c.Near(row, "cp_J_kgK", p.HeatCapacity)
		c.Near(row, "k_W_mK", p.Conductivity)
		c.Near(row, "alpha_m2_s", p.Diffusivity())
	}
}

func compositionOf(c *published.Check, row published.Row) Composition {
	var food Composition
	parts := map[string]*float64{"water": &food.Water, "protein": &food.Protein, "fat": &food.Fat,
		"carb": &food.Carbohydrate, "fibre": &food.Fibre, "ash": &food.Ash}
	for pair := range strings.SplitSeq(row.Text(c.T, "mass_fractions_normalised_to_1"), ";") {
		name, value, _ := strings.Cut(pair, "=")
		x, err := strconv.ParseFloat(value, 64)
		if err != nil || parts[name] == nil {
			c.T.Fatalf("%s: part %q", row.Where(), pair)
		}
		*parts[name] = x
	}
	return food
}

func checkOneTerm(c *published.Check) {
	for _, row := range c.Rows {
		first, ok := shapeOf(c, row).OneTerm(row.Num(c.T, "Bi"))
		c.Near(row, "zeta1_rad", number(first.Zeta, ok))
		c.Near(row, "C1", number(first.C, ok))
	}
}

func checkBiot(c *published.Check) {
	for _, row := range c.Rows {
		for shape, name := range map[Shape]string{Slab: "wall", Cylinder: "cyl", Sphere: "sph"} {
			first, ok := shape.OneTerm(row.Num(c.T, "Bi"))
			c.Near(row, name+"_zeta1", number(first.Zeta, ok))
			c.Near(row, name+"_C1", number(first.C, ok))
		}
	}
}

func checkSeries(c *published.Check) {
	for _, row := range c.Rows {
		s, ok := NewSeries(shapeOf(c, row), row.Num(c.T, "Bi"))
		fo := row.Num(c.T, "Fo")
		c.Near(row, "theta_center_exact", number(s.Centre(fo), ok))
		c.Near(row, "theta_center_one_term", number(s.First().Centre(fo), ok))
	}
}

func bodyOf(c *published.Check, row published.Row) Body {
	num := func(column string) float64 { return row.Num(c.T, column) }
	return Body{Shape: shapeOf(c, row), LengthM: num("L_or_r_m"), H: num("h"), K: num("k"), Diffusivity: num("alpha")}
}

func checkHeatTimes(c *published.Check) {
	for _, row := range c.Rows {
		num := func(column string) float64 { return row.Num(c.T, column) }
		b := bodyOf(c, row)
		first, ok := b.Shape.OneTerm(b.Biot())
		part := (num("T_limit") - num("T_medium")) / (num("T_init") - num("T_medium"))
		c.Near(row, "Bi", b.Biot())
		c.Near(row, "zeta1", number(first.Zeta, ok))
		c.Near(row, "C1", number(first.C, ok))
		c.Near(row, "Fo_one_term", first.Fo(part))
		c.Near(row, "time_one_term_h", number(b.HoursOneTerm(part)))
		c.Near(row, "time_exact_h", number(b.Hours(part)))
		c.Near(row, "tau_h", number(b.TauH()))
	}
}

func checkSteepest(c *published.Check) {
	for _, row := range c.Rows {
		s, ok := NewSeries(shapeOf(c, row), row.Num(c.T, "Bi"))
		fo, rate := s.Steepest()
		c.Near(row, "Fo_at_max", number(fo, ok))
		c.Near(row, "max_dtheta_dFo", number(rate, ok))
	}
}

func checkCeiling(c *published.Check) {
	for _, row := range c.Rows {
		num := func(column string) float64 { return row.Num(c.T, column) }
		b := Body{Shape: shapeOf(c, row), LengthM: num("r_m"), H: num("Bi"), K: num("r_m"), Diffusivity: num("alpha")}
		got := number(b.Ceiling(num("difference_K")))
		off := math.Abs(got - num("ceiling_K_per_min"))
		c.Holds(row, off <= num("tolerance"), "%v K/min, printed %v", got, num("ceiling_K_per_min"))
	}
}

func checkProductTau(c *published.Check) {
	for _, row := range c.Rows {
		c.Near(row, "tau_h", number(bodyOf(c, row).TauH()))
	}
}

func checkResponse(c *published.Check) {
	for _, row := range c.Rows {
		c.Near(row, "tau_h", number(bodyOf(c, row).ResponseH()))
	}
}

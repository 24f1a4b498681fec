package lethality

import (
	"math"
	"testing"

	"flitch/testdata/published"
)

// The tolerances are those the tables were published with.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process/lethality")
	r.Check("lethal rate, exact segments", "lethality_integration.csv", published.Rel(1e-6), checkIntegration)
	r.Check("trapezoid on the rate, for comparison only", "lethality_integration.csv", published.Rel(1e-6), checkTrapezoid)
	r.Check("time in the danger zone", "danger_zone.csv", published.Abs(1e-6), checkZone)
	r.Check("default target asks for at least the 6.5-log column", "fsis_lethality_meat.csv", published.Rel(0.20), checkStrict)
	r.Check("best fit to the 6.5-log column", "appendix_a_fit.csv", published.Rel(1e-6), checkFit)
	r.Check("Trichinella regression, to explain the rule", "trichinae.csv", published.Rel(1e-6), checkTrichinae)
	r.Close()
}

func checkIntegration(c *published.Check) {
	for _, row := range c.Rows {
		target, sum := targetOf(c, row), Sum{}
		series := row.Series(c.T, "series_min_C")
		for i, b := range series[1:] {
			a := series[i]
			sum.Add(target, a.Value, b.Value, b.At-a.At, row.NumOr(c.T, "gap_max_min", math.Inf(1)))
		}
		c.Near(row, "F_linear_min", sum.FMin)
		c.Near(row, "F_lower_min", sum.LowerMin)
		c.Near(row, "log10_red_linear", target.LogReduction(sum.FMin))
		c.Near(row, "log10_red_lower", target.LogReduction(sum.LowerMin))
	}
}

func checkTrapezoid(c *published.Check) {
	for _, row := range c.Rows {
		target, f := targetOf(c, row), 0.0
		series := row.Series(c.T, "series_min_C")
		for i, b := range series[1:] {
			a := series[i]
			if dt := b.At - a.At; dt <= row.NumOr(c.T, "gap_max_min", math.Inf(1)) {
				f += dt * (target.Rate(a.Value) + target.Rate(b.Value)) / 2
			}
		}
		c.Near(row, "F_trapezoid_min", f)
	}
}

func targetOf(c *published.Check, row published.Row) Target {
	return Target{
		RefC: row.Num(c.T, "Tref_C"), ZC: row.Num(c.T, "z_C"), DRefMin: row.Num(c.T, "D_ref_min"),
		FloorC: row.Num(c.T, "floor_C"), CapC: row.Num(c.T, "cap_C"),
	}
}

func checkZone(c *published.Check) {
	for _, row := range c.Rows {
		zone, e := Zone{FromC: row.Num(c.T, "lo_C"), ToC: row.Num(c.T, "hi_C")}, Exposure{}
		series := row.Series(c.T, "series_min_C")
		for i, b := range series[1:] {
			a := series[i]
			e.Add(zone, a.Value, b.Value, b.At-a.At, row.NumOr(c.T, "gap_max_min", math.Inf(1)))
		}
		c.Near(row, "minutes_in_zone", e.Minutes)
	}
}

// checkStrict holds the time the default target asks for at each row's
// temperature against the row. It must not ask for less; that it asks for up to a
// fifth more is the price of one law for rounded rows.
func checkStrict(c *published.Check) {
	target := Salmonella()
	for _, row := range c.Rows {
		rowMin := row.Num(c.T, "minutes_6_5log")
		if rowMin == 0 { // "instant" is a rule, not physics
			continue
		}
		tempC := (row.Num(c.T, "temp_f") - 32) / 1.8
		asked := 6.5 * target.DRefMin / target.Rate(tempC)
		if asked < rowMin {
			c.T.Errorf("%s: the target asks for %.4f min, the table for %.4f", row.Where(), asked, rowMin)
		}
		c.Near(row, "minutes_6_5log", asked)
	}
}

// checkFit holds the best fit against the table it was made from, row by row.
func checkFit(c *published.Check) {
	fit := SalmonellaFit()
	for _, row := range c.Rows {
		tempC := (row.Num(c.T, "T_F") - 32) / 1.8
		asked := 6.5 * fit.DRefMin / fit.Rate(tempC)
		c.Near(row, "T_C", tempC)
		c.Near(row, "fit_6.5log_min", asked)
		c.Near(row, "table_over_fit", row.Num(c.T, "table_6.5log_min")/asked)
		c.Near(row, "implied_D60_min_6.5", row.Num(c.T, "table_6.5log_min")*fit.Rate(tempC)/6.5)
		c.Near(row, "implied_D60_min_7", row.Num(c.T, "table_7log_min")*fit.Rate(tempC)/7)
	}
}

func checkTrichinae(c *published.Check) {
	for _, row := range c.Rows {
		asked := TrichinaMin((row.Num(c.T, "T_F") - 32) / 1.8)
		c.Near(row, "regression_min", asked)
		c.Near(row, "ratio", row.Num(c.T, "cfr_table_min")/asked)
		c.Holds(row, row.Num(c.T, "cfr_table_min") > 3*asked, "the rule asks for less than three times the regression")
	}
}

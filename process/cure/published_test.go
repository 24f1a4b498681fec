package cure

import (
	"math"
	"strings"
	"testing"

	"flitch/testdata/published"
)

// The tolerances are those the tables were published with.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process/cure")
	r.Check("slab, constant surface and dose absorbed", "slab_series.csv", published.Abs(1e-6), checkSlabSeries)
	r.Check("slab, constant surface, printed values", "crank_uptake_manual.csv", published.Abs(1e-12), checkManual)
	r.Check("slab, limited bath", "slab_limited_volume.csv", published.Abs(1e-6), checkSlabLimited)
	r.Check("slab, limited bath, roots", "slab_limited_roots.csv", published.Abs(1e-8), checkRoots)
	r.Check("cylinder and sphere", "cylinder_sphere.csv", published.Abs(1e-6), checkRound)
	r.Check("tau for a fraction", "tau_for_fraction.csv", published.Rel(1e-6), checkTauFor)
	r.Check("temperature history", "cure_temperature_history.csv", published.Rel(2e-4), checkHistory)
	r.Check("whole cures", "cure_cases.csv", published.Rel(1e-4), checkCases)
	r.Check("whole cures, hours left", "cure_cases.csv", published.Abs(0.05), checkHoursLeft)
	r.Check("dose in parts", "cure_multidose.csv", published.Abs(1e-6), checkMultidose)
	r.Check("salting and rest", "cure_rest_phase.csv", published.Abs(1e-6), checkRest)
	r.Check("loss of nitrite", "cure_nitrite_decay.csv", published.Rel(1e-6), checkDecay)
	r.Check("doses", "cure_dosing.csv", published.Rel(1e-6), checkDosing)
	r.Check("doses, worked by others", "nitrite_worked_examples.csv", published.Rel(1e-4), checkWorked)
	r.Check("rules of thumb beside the model, centre", "cure_rules_of_thumb.csv", published.Abs(6e-4), checkThumbs)
	r.Check("rules of thumb beside the model, days", "cure_rules_of_thumb.csv", published.Rel(6e-4), checkThumbDays)
	r.Check("common practice, as sanity bands", "cure_common_practice.csv", published.Tolerance{}, checkPractice)
	r.Check("drying", "cure_drying.csv", published.Rel(1e-6), checkDrying)
	r.Check("drying fitted to a weighing", "cure_drying_fit.csv", published.Rel(1e-6), checkDryingFit)
	r.Check("water activity of brine", "cure_water_activity.csv", published.Rel(1e-6), checkBrineActivity)
	r.Check("water activity of brine, printed values", "water_activity_printed.csv", published.Abs(3e-3), checkPrintedActivity)
	r.Check("water activity of product", "cure_product_aw.csv", published.Rel(1e-6), checkProductActivity)
	r.Check("box, constant surface", "cure_edge_product.csv", published.Rel(1e-6), checkBox)
	r.Check("diffusivity beside seen values; 3 of the 6 it was chosen from lie in its 80 % interval", "salt_diffusivity.csv", published.Tolerance{}, checkSeenDiffusivities)
	r.Check("nitrite moving and lost in the meat only", "cure_nitrite_reaction_diffusion.csv", published.Abs(1e-4), checkDecaying)
	r.Close()
}

func checkSlabSeries(c *published.Check) {
	inf := math.Inf(1)
	for _, row := range c.Rows {
		tau := row.Num(c.T, "tau")
		c.Near(row, "F_centre_constant_surface", Cut{Slab, inf}.Centre(tau))
		c.Near(row, "F_half_constant_surface", SlabAt(inf, 0.5, tau))
		c.Near(row, "M_mean_constant_surface", Cut{Slab, inf}.Mean(tau))
		c.Near(row, "F_centre_dose_absorbed", Cut{Slab, 0}.Centre(tau))
		c.Near(row, "F_half_dose_absorbed", SlabAt(0, 0.5, tau))
	}
}

func checkManual(c *published.Check) {
	for _, row := range c.Rows {
		c.Near(row, "M_mean_constant_surface", Cut{Slab, math.Inf(1)}.Mean(row.Num(c.T, "tau")))
	}
}

func checkSlabLimited(c *published.Check) {
	for _, row := range c.Rows {
		cut, tau := Cut{Slab, row.Num(c.T, "alpha")}, row.Num(c.T, "tau")
		c.Near(row, "q1", cut.term(1).q)
		c.Near(row, "F_centre", cut.Centre(tau))
		c.Near(row, "M_mean_uptake", cut.Mean(tau))
		c.Near(row, "bath_over_initial", 1-cut.Mean(tau)/(1+cut.Alpha))
	}
}

func checkRoots(c *published.Check) {
	for _, row := range c.Rows {
		// alpha is printed to 8 digits: take it from the uptake it stands for.
		uptake := row.Num(c.T, "final_fractional_uptake_of_solute")
		cut := Cut{Slab, (1 - uptake) / uptake}
		for n, column := range []string{"q1", "q2", "q3", "q4", "q5", "q6"} {
			c.Near(row, column, cut.term(n+1).q)
		}
	}
}

func shapeOf(c *published.Check, row published.Row) Shape {
	switch s := row.Text(c.T, "shape"); s {
	case "slab":
		return Slab
	case "cylinder":
		return Cylinder
	case "sphere":
		return Sphere
	default:
		c.T.Fatalf("%s: unknown shape %q", row.Where(), s)
		return 0
	}
}

func checkRound(c *published.Check) {
	for _, row := range c.Rows {
		cut, tau := Cut{shapeOf(c, row), row.Num(c.T, "alpha")}, row.Num(c.T, "tau")
		c.Near(row, "F_centre", cut.Centre(tau))
		c.Near(row, "M_mean_uptake", cut.Mean(tau))
	}
}

func checkTauFor(c *published.Check) {
	for _, row := range c.Rows {
		cut := Cut{shapeOf(c, row), row.Num(c.T, "alpha")}
		for column, fraction := range map[string]float64{
			"tau_F50": 0.50, "tau_F80": 0.80, "tau_F90": 0.90, "tau_F95": 0.95, "tau_F99": 0.99,
		} {
			c.Near(row, column, cut.TauFor(fraction))
		}
	}
}

// history sums a series of hour:celsius to tau and to nitrite decay.
func history(series []published.Point, path float64) (tau, decay float64) {
	for i, b := range series[1:] {
		a := series[i]
		tau += Tau(a.Value, b.Value, b.At-a.At, path)
		decay += NitriteDecay(a.Value, b.Value, b.At-a.At, DefaultPH)
	}
	return tau, decay
}

func checkHistory(c *published.Check) {
	for _, row := range c.Rows {
		skinOn := row.Num(c.T, "sides") == 1
		path := Path(Slab, row.Num(c.T, "thickness_m"), skinOn)
		cut := Cut{Slab, row.Num(c.T, "alpha")}
		tau, decay := history(historySeries(c, row), path)
		c.Near(row, "tau_exact", tau)
		c.Near(row, "F_centre", cut.Centre(tau))
		c.Near(row, "M_mean_uptake", cut.Mean(tau))
		c.Near(row, "nitrite_survival_pH5.8", NitriteLeft(decay))
	}
}

// historySeries is the row's series, or its sine wave sampled every minute.
func historySeries(c *published.Check, row published.Row) []published.Point {
	if row.Text(c.T, "kind") == "piecewise_linear" {
		return row.Series(c.T, "series_h_C")
	}
	kind, wave := row.Text(c.T, "kind"), map[string]float64{}
	for _, word := range strings.Fields(strings.TrimPrefix(kind, "sinusoid ")) {
		wave[strings.Split(word, "=")[0]] = number(c, row, strings.Split(word, "=")[1])
	}
	var out []published.Point
	for minute := range int(wave["hours"]*60) + 1 {
		angle := 2 * math.Pi * float64(minute) / wave["period_min"]
		out = append(out, published.Point{At: float64(minute) / 60, Value: wave["mean"] + wave["amp"]*math.Sin(angle)})
	}
	return out
}

func checkMultidose(c *published.Check) {
	for _, row := range c.Rows {
		cut, end := Cut{Slab, row.Num(c.T, "alpha")}, row.Num(c.T, "tau_end")
		var doses []Dose
		for _, p := range row.Series(c.T, "doses_tau_fraction") {
			doses = append(doses, Dose{Tau: p.At, Share: p.Value})
		}
		c.Near(row, "F_centre", cut.CentreOf(doses, end))
		c.Near(row, "M_mean_uptake", cut.MeanOf(doses, end))
	}
}

func checkRest(c *published.Check) {
	for _, row := range c.Rows {
		r := Rest(row.Num(c.T, "tau_salting"), row.Num(c.T, "tau_rest"))
		c.Near(row, "M_after_salting_over_csat", r.Mean)
		c.Near(row, "centre_over_csat", r.Centre)
		c.Near(row, "surface_over_csat", r.Surface)
		c.Near(row, "evenness_centre_over_mean", r.Evenness())
	}
}

func checkDecay(c *published.Check) {
	for _, row := range c.Rows {
		tempC, pH := row.Num(c.T, "T_C"), row.Num(c.T, "pH")
		c.Near(row, "half_life_h", NitriteHalfLife(tempC, pH))
		c.Near(row, "k_per_day", NitriteDecay(tempC, tempC, 24, pH))
		c.Near(row, "survival_7d", NitriteLeft(NitriteDecay(tempC, tempC, 7*24, pH)))
		c.Near(row, "survival_30d", NitriteLeft(NitriteDecay(tempC, tempC, 30*24, pH)))
	}
}

package heat

import (
	"testing"

	"flitch/testdata/published"
)

// The tolerances are those the tables were published with.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process/heat")
	r.Check("Newton cooling, time and spread", "cooling_newton.csv", published.Abs(1e-4), checkCooling)
	r.Check("slopes, robust and least squares", "slope_tests.csv", published.Rel(1e-6), checkSlopes)
	r.Check("standard error of a slope", "slope_window_se.csv", published.Rel(1e-6), checkWindows)
	r.Check("chill forecast over cool_scenarios.csv", "cool_scenarios_labels.csv", published.Tolerance{}, checkChills)
	r.Check("events of a cook over cook_scenarios.csv", "cook_scenarios_labels.csv", published.Tolerance{}, checkCooks)
	checkBodies(r)
	checkAir(r)
	r.Close()
}

func checkCooling(c *published.Check) {
	for _, row := range c.Rows {
		num := func(column string) float64 { return row.Num(c.T, column) }
		cooling := Cooling{
			NowC: num("T_now_C"), SdNow: num("sd_T"), AirC: num("T_air_C"), SdAir: num("sd_Tair"),
			TauH: num("tau_h"), SdTau: num("sd_tau_h"),
		}
		x, ok := cooling.Crossing(num("T_limit_C"))
		if !ok {
			c.T.Errorf("%s: no crossing", row.Where())
		}
		c.Near(row, "t_cross_h", x.Hours)
		c.Near(row, "sd_t_cross_h", x.SdHours)
	}
}

func checkSlopes(c *published.Check) {
	for _, row := range c.Rows {
		var samples []Sample
		for _, p := range row.Series(c.T, "series_min_C") {
			samples = append(samples, Sample{Min: p.At, C: p.Value})
		}
		robust, ok1 := TheilSen(samples)
		plain, ok2 := LeastSquares(samples)
		if !ok1 || !ok2 {
			c.T.Errorf("%s: no slope", row.Where())
		}
		c.Near(row, "theil_sen_C_per_h", robust.PerHour)
		c.Near(row, "robust_sigma_C", robust.SigmaC)
		c.Near(row, "robust_se_C_per_h", robust.Se)
		c.Near(row, "ols_C_per_h", plain.PerHour)
		c.Near(row, "ols_se_C_per_h", plain.Se)
	}
}

// oneSided95 is the normal quantile of the table's last column, its own rounding.
const oneSided95 = 1.645

func checkWindows(c *published.Check) {
	for _, row := range c.Rows {
		samples := make([]Sample, int(row.Num(c.T, "n_samples_1min")))
		for i := range samples {
			samples[i].Min = float64(i)
		}
		se := SlopeSe(row.Num(c.T, "sigma_C"), samples)
		c.Near(row, "slope_se_C_per_h", se)
		c.Near(row, "one_sided_95_C_per_h", oneSided95*se)
	}
}

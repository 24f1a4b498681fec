package cure

import (
	"strconv"
	"strings"

	"flitch/testdata/published"
)

// nitrateInPork is the activation energy of row L03, J/mol, the upper bound of ours.
const nitrateInPork = 24.71e3

// checkSeenDiffusivities holds the law beside every value others printed. No spec
// gives a tolerance: the factor SpreadD is a judgement, not a statistic. What is
// right or wrong is which printed ends lie inside the interval at the temperature
// they were taken at (worked out apart from this code), and the bounds that the
// other numbers set to the constants.
func checkSeenDiffusivities(c *published.Check) {
	inside, ends := 0, 0
	for _, row := range c.Rows {
		switch use := row.Text(c.T, "use"); use {
		case "anchor", "upper range", "lower range, Ea", "rejected", "rejected for prediction", "context", "context only":
			in, of := checkEnds(c, row)
			if row.Text(c.T, "basis") == "yes" {
				inside, ends = inside+in, ends+of
			}
		case "Ea":
			ea := row.Num(c.T, "Ea_kJ_mol")
			c.Holds(row, ActivationEnergy > 1e3*ea && ActivationEnergy < nitrateInPork, "%v is not between ions in water and nitrate in pork", ActivationEnergy)
		case "Ea floor":
			c.Holds(row, ActivationEnergy > 1e3*row.Num(c.T, "Ea_kJ_mol"), "%v is below the floor", ActivationEnergy)
		case "drying default":
			c.Holds(row, DryingD >= row.Num(c.T, "D_low_m2_s") && DryingD <= row.Num(c.T, "D_high_m2_s"), "%v is outside", DryingD)
		case "frozen/thawed factor 1.3":
			c.Holds(row, strings.HasSuffix(use, strconv.FormatFloat(ThawedFactor, 'g', -1, 64)), "factor %v", ThawedFactor)
		case "Ea spread", "concentration effect", "caution", "pH and fat direction", "skin taken as sealed",
			"nitrite not slower than salt", "D ratio nitrite/salt", "water-phase driving force": // no number of this law
		default:
			c.T.Errorf("%s: use %q is not known", row.Where(), use)
		}
	}
	c.T.Logf("of the values the choice was made from, %d of %d lie in the 80 %% interval", inside, ends)
	if inside != 3 || ends != 6 {
		c.T.Errorf("%d of %d values are inside, want 3 of 6: say so where the interval is explained", inside, ends)
	}
}

// checkEnds counts the ends of the printed range that lie in the interval.
func checkEnds(c *published.Check, row published.Row) (inside, ends int) {
	for _, end := range []string{"low", "high"} {
		want := row.Text(c.T, end+"_in_80")
		if want == "" { // of water, or no temperature
			continue
		}
		seen, d := row.Text(c.T, "D_"+end+"_m2_s"), Diffusivity(row.Num(c.T, "T_"+end+"_C"))
		v := number(c, row, strings.Fields(seen)[0])
		in := v >= d/SpreadD && v <= d*SpreadD
		c.T.Logf("%s: %s m²/s at %s °C (%s), model %.3g, ratio %.2f", row.Text(c.T, "id"), seen,
			row.Text(c.T, "T_"+end+"_C"), row.Text(c.T, "T_taken"), d, v/d)
		c.Holds(row, in == (want == "yes"), "%s end inside is %v, want %s", end, in, want)
		if ends++; in {
			inside++
		}
	}
	return inside, ends
}

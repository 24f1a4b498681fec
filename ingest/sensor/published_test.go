package sensor

import (
	"math"
	"strings"
	"testing"

	"flitch/testdata/published"
)

func TestPublished(t *testing.T) {
	r := published.Open(t, "ingest/sensor")
	r.Check("NTC by beta", "ntc_beta.csv", published.Abs(1e-3), checkBeta)
	r.Check("NTC by beta, the divider", "ntc_beta.csv", published.Rel(1e-6), checkDivider)
	r.Check("NTC by Steinhart and Hart", "ntc_steinhart_hart.csv", published.Abs(1e-3), checkSteinhartHart)
	r.Check("NTC, coefficients from three points", "ntc_steinhart_hart.csv", published.Rel(1e-6), checkThreePoints)
	r.Check("Pt100 and Pt1000, resistance", "pt100.csv", published.Rel(1e-6), checkPlatinumOhm)
	r.Check("Pt100 and Pt1000, temperature and classes", "pt100.csv", published.Abs(1e-3), checkPlatinum)
	r.Check("thermocouple K, voltage", "thermocouple_k.csv", published.Rel(1e-6), checkVoltage)
	r.Check("thermocouple K, temperature", "thermocouple_k.csv", published.Abs(1e-3), checkThermocouple)
	r.Check("cold junction", "thermocouple_k_cjc.csv", published.Abs(1e-3), checkJunction)
	r.Check("cold junction, voltages", "thermocouple_k_cjc.csv", published.Rel(1e-6), checkJunctionVoltages)
	r.Close()
}

// believed fails the test when there is no temperature.
func believed(c *published.Check, row published.Row, tC float64, why string) float64 {
	c.T.Helper()
	if why != "" {
		c.T.Errorf("%s: %s", row.Where(), why)
	}
	return tC
}

func betaOf(c *published.Check, row published.Row) SteinhartHart {
	s, err := Beta(row.Num(c.T, "R25_ohm"), row.Num(c.T, "Beta_K"))
	if err != nil {
		c.T.Fatalf("%s: %v", row.Where(), err)
	}
	return s
}

func checkBeta(c *published.Check) {
	for _, row := range c.Rows {
		s := betaOf(c, row)
		tC, why := s.TempC(row.Num(c.T, "R_ohm"))
		c.Near(row, "T_C", believed(c, row, tC, why))
		// Off a real converter the temperature comes back within the half count it rounds by.
		d := Divider{SeriesOhm: row.Num(c.T, "R25_ohm"), FullScale: 4095}
		n, tC := row.Num(c.T, "adc12_count"), row.Num(c.T, "T_C")
		above, _ := d.Counts(s)(n-0.5, 0)
		below, _ := d.Counts(s)(n+0.5, 0)
		if !(below <= tC && tC <= above) {
			c.T.Errorf("%s: %g counts is %.2f to %.2f °C", row.Where(), n, below, above)
		}
	}
}

func checkDivider(c *published.Check) {
	for _, row := range c.Rows {
		r25 := row.Num(c.T, "R25_ohm")
		share := row.Num(c.T, "ratio_low_side_Rs_eq_R25")
		for _, high := range []bool{false, true} {
			d := Divider{SeriesOhm: r25, FullScale: 1e6, HighSide: high}
			counts := share * d.FullScale
			if high {
				counts = d.FullScale - counts
			}
			ohm, why := d.Ohm(counts)
			c.Near(row, "R_ohm", believed(c, row, ohm, why))
		}
	}
}

func checkSteinhartHart(c *published.Check) {
	for _, row := range c.Rows {
		s := SteinhartHart{row.Num(c.T, "A"), row.Num(c.T, "B"), row.Num(c.T, "C")}
		if err := s.Check(); err != nil {
			c.T.Errorf("%s: %v", row.Where(), err)
		}
		tC, why := s.TempC(row.Num(c.T, "R_ohm"))
		c.Near(row, "T_calc_C", believed(c, row, tC, why))
		if far := math.Abs(tC - row.Num(c.T, "T_published_C")); far > 0.01 {
			c.T.Errorf("%s: %.4f K from the maker's table", row.Where(), far)
		}
	}
}

// The points of each set are named in it; those of set A are not all among the rows.
func checkThreePoints(c *published.Check) {
	points := map[string][3]Point{
		"A": {{-20, 97006.9}, {0, 32650.9}, {25, 10000}},
		"B": {{20, 12490}, {60, 2488}, {100, 680}},
	}
	for _, row := range c.Rows {
		set, _, _ := strings.Cut(strings.TrimPrefix(row.Text(c.T, "set"), "probe"), "_")
		s, err := ThreePoints(points[set])
		if err != nil {
			c.T.Fatalf("%s: %v", row.Where(), err)
		}
		c.Near(row, "A", s.A)
		c.Near(row, "B", s.B)
		c.Near(row, "C", s.C)
	}
}

func checkPlatinumOhm(c *published.Check) {
	for _, row := range c.Rows {
		hundred, _ := PlatinumOhm(100, row.Num(c.T, "T_C"))
		thousand, _ := PlatinumOhm(1000, row.Num(c.T, "T_C"))
		c.Near(row, "R_Pt100_ohm", hundred)
		c.Near(row, "R_Pt1000_ohm", thousand)
	}
}

func checkPlatinum(c *published.Check) {
	for _, row := range c.Rows {
		for r0, column := range map[float64]string{100: "R_Pt100_ohm", 1000: "R_Pt1000_ohm"} {
			tC, why := PlatinumTempC(r0, row.Num(c.T, column))
			c.Near(row, "T_C", believed(c, row, tC, why))
		}
		a, _ := ToleranceC("A", row.Num(c.T, "T_C"))
		b, _ := ToleranceC("B", row.Num(c.T, "T_C"))
		c.Near(row, "tol_class_A_C", a)
		c.Near(row, "tol_class_B_C", b)
	}
}

func checkVoltage(c *published.Check) {
	for _, row := range c.Rows {
		mV, _ := ThermocoupleMV(row.Num(c.T, "T_C"))
		c.Near(row, "E_mV", mV)
	}
}

// inverse is NIST's own polynomial back from 0 to 20.644 mV, good to 0.05 K: a second
// way from the same authority.
var inverse = []float64{0, 25.08355, 7.860106e-2, -2.503131e-1, 8.31527e-2, -1.228034e-2, 9.804036e-4, -4.41303e-5, 1.057734e-6, -1.052755e-8}

func checkThermocouple(c *published.Check) {
	for _, row := range c.Rows {
		mV := row.Num(c.T, "E_mV")
		tC, why := ThermocoupleTempC(mV, 0)
		c.Near(row, "T_inverse_newton_C", believed(c, row, tC, why))
		if mV < 0 || mV > 20.644 {
			continue
		}
		back := polynomial(inverse, mV)
		c.Near(row, "T_inverse_poly_C", back)
		if math.Abs(back-tC) > 0.06 {
			c.T.Errorf("%s: %.3f K from the polynomial back", row.Where(), back-tC)
		}
	}
}

func checkJunction(c *published.Check) {
	for _, row := range c.Rows {
		mV, cold := row.Num(c.T, "E_measured_mV"), row.Num(c.T, "T_coldjunction_C")
		tC, why := Millivolts()(mV, cold)
		c.Near(row, "T_hot_calc_C", believed(c, row, tC, why))
		c.Near(row, "T_hot_C", tC)
		straight := cold + mV/chipMVPerK
		c.Near(row, "T_hot_if_linear_41.276uV", straight)
		again, why := Linear()(straight, cold)
		c.Near(row, "T_hot_C", believed(c, row, again, why))
	}
}

func checkJunctionVoltages(c *published.Check) {
	for _, row := range c.Rows {
		hot, _ := ThermocoupleMV(row.Num(c.T, "T_hot_C"))
		cold, _ := ThermocoupleMV(row.Num(c.T, "T_coldjunction_C"))
		c.Near(row, "E_coldjunction_mV", cold)
		c.Near(row, "E_measured_mV", hot-cold)
	}
}

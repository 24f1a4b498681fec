package signal

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"flitch/testdata/published"
)

func TestPublished(t *testing.T) {
	r := published.Open(t, "ingest/signal")
	r.Check("pairs that drift", "cusum_pairs.csv", published.Abs(1e-9), checkPairs)
	r.Close()
}

func numbers(c *published.Check, cell string) (out []float64) {
	for part := range strings.SplitSeq(cell, "|") {
		v, err := strconv.ParseFloat(part, 64)
		if part == "" {
			v, err = math.NaN(), nil
		}
		if err != nil {
			c.T.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

func checkPairs(c *published.Check) {
	for _, row := range c.Rows {
		if row.Num(c.T, "k") != driftSlack || row.Num(c.T, "h") != driftAlarm {
			c.T.Fatalf("%s: other constants", row.Where())
		}
		var d Drift
		first := -1
		for i, difference := range numbers(c, row.Text(c.T, "difference_series_C")) {
			if d.Add(difference, row.Num(c.T, "sigma_C")) && first < 0 {
				first = i
			}
		}
		c.Near(row, "first_alarm_index_0based", float64(first))
		c.Near(row, "S_plus_end", d.Plus)
		c.Near(row, "S_minus_end", d.Minus)
	}
}

func TestFaulty(t *testing.T) {
	if (Rate | Flat).Faulty() || !Spike.Faulty() || !(Rate | Range).Faulty() {
		t.Error("a pulled probe must be seen, a spike must not")
	}
	if (&Drift{}).Add(math.NaN(), 1) {
		t.Error("no number is no drift")
	}
}

func TestFaultWords(t *testing.T) {
	all := Fault(0)
	for _, f := range Faults() {
		if f.String() == "" || all&f != 0 {
			t.Errorf("fault %d: %q", f, f)
		}
		all |= f
	}
	if got := (Spike | Rate).String(); got != "spike+rate" || Fault(0).String() != "" {
		t.Errorf("%q", got)
	}
}

// A rate is over a minute at least: what two digits make in five seconds is none.
func TestRate(t *testing.T) {
	for _, c := range []struct {
		last, x, minutes, limit float64
		want                    bool
	}{
		{3, 11, 1, 8, false}, {3, 11.1, 1, 8, true}, {3, 11.1, 2, 8, false}, {3, 4, 1.0 / 12, 8, false}, {3, 11.1, 1.0 / 12, 8, true}, {11.1, 3, 1, 8, true}, {3, 90, 1, 0, false},
	} {
		if got := IsRate(c.last, c.x, c.minutes, c.limit); got != c.want {
			t.Errorf("%+v: %t", c, got)
		}
	}
}

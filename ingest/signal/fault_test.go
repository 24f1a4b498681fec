package signal

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"flitch/testdata/published"
)

func TestPublished(t *testing.T) {
	r := published.Open(t, "ingest/signal")
	r.Check("faults of samples", "fault_cases.csv", published.Tolerance{}, checkFaults)
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

func words(f Fault) string {
	var out []string
	for i, w := range []string{"missing", "sentinel", "range", "spike", "rate", "flat"} {
		if f&(1<<i) != 0 {
			out = append(out, w)
		}
	}
	return strings.Join(out, "+")
}

// screened is the faults of a series, a sample a minute, in its order.
func screened(series []float64, l Limits) []string {
	var s Screen
	out := make([]string, len(series))
	for i, v := range series {
		for _, v := range s.Add(float64(i), v, l) {
			out[int(v.Min)] = words(v.Faults)
		}
	}
	for _, v := range s.Flush(l) {
		out[int(v.Min)] = words(v.Faults)
	}
	return out
}

func checkFaults(c *published.Check) {
	for _, row := range c.Rows {
		l := Limits{Lo: row.Num(c.T, "range_lo"), Hi: row.Num(c.T, "range_hi"), Codes: numbers(c, row.Text(c.T, "sentinels")),
			SpikeC: row.Num(c.T, "spike_thr_C"), RatePerMin: row.Num(c.T, "rate_max_C_per_min"), FlatN: int(row.Num(c.T, "flat_n"))}
		got := strings.Join(screened(numbers(c, row.Text(c.T, "series_1min")), l), "|")
		want := row.Text(c.T, "flags")
		c.Holds(row, got == want, "%s: got %s, want %s", row.Text(c.T, "id"), got, want)
	}
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

func TestFlat(t *testing.T) {
	l := Limits{Lo: -30, Hi: 130, SpikeC: 2, RatePerMin: 2.5, FlatN: 5}
	got := strings.Join(screened([]float64{50, 50.1, 50.1, 50.1, 50.1, 50.1, 50.1, 50.2, 50.1}, l), "|")
	if want := "|||||flat|flat||"; got != want {
		t.Errorf("identical readings: %s, want %s", got, want)
	}
	l.Resolution = 0.11
	got = strings.Join(screened([]float64{50, 50.1, 50, 50.1, 50, 50.3}, l), "|")
	if want := "||||flat|"; got != want {
		t.Errorf("readings within the resolution: %s, want %s", got, want)
	}
	if IsFlat(nil, 1) {
		t.Error("nothing is not flat")
	}
}

// 85.0 is a smoker's temperature beside others like it, and the first word of a
// sensor that just started.
func TestDoubtfulCode(t *testing.T) {
	l, ok := LimitsOf("chamber")
	if !ok {
		t.Fatal("no limits")
	}
	for series, want := range map[string]string{
		"85,84,83": "sentinel||", "83,84,85,86": "|||", "20,21,85,23": "||sentinel|", "20,-127,999.9,21": "|sentinel|sentinel|",
	} {
		var values []float64
		for part := range strings.SplitSeq(series, ",") {
			v, err := strconv.ParseFloat(part, 64)
			if err != nil {
				t.Fatal(err)
			}
			values = append(values, v)
		}
		if got := strings.Join(screened(values, l), "|"); got != want {
			t.Errorf("%s: %s, want %s", series, got, want)
		}
	}
	if _, ok := LimitsOf("humidity"); ok {
		t.Error("humidity is no temperature")
	}
}

func TestScreenKeeps(t *testing.T) {
	l, _ := LimitsOf("core")
	var a, b Screen
	for i := range 200 {
		v := 50 + 0.1*math.Round(3*math.Sin(float64(i)))
		if i%37 == 0 {
			v = math.NaN()
		}
		if i%41 == 0 {
			v += 9
		}
		text, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		b = Screen{}
		if err := json.Unmarshal(text, &b); err != nil {
			t.Fatal(err)
		}
		x, y := a.Add(float64(i), v, l), b.Add(float64(i), v, l)
		if len(x) != len(y) || len(x) == 1 && (x[0].Faults != y[0].Faults || x[0].Min != y[0].Min) {
			t.Fatalf("sample %d: %v, from JSON %v", i, x, y)
		}
	}
	if v := a.Add(5, 50, l); len(v) != 1 || v[0].Faults != Missing {
		t.Errorf("a sample of an earlier time: %v", v)
	}
	m := 1000.0
	if n := testing.AllocsPerRun(200, func() { m++; a.Add(m, 50, l) }); n != 0 {
		t.Errorf("%v allocations a sample", n)
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

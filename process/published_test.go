package process

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitch/ingest/signal"
	"flitch/testdata/published"
)

// The sieve that every reading goes through, live and otherwise, against the table of
// sensor faults.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process")
	r.Check("faults of samples, through the sieve of the live path", "fault_cases.csv", published.Tolerance{}, checkFaults)
	r.Close()
}

func numbersIn(t testing.TB, cell string) (out []float64) {
	t.Helper()
	for part := range strings.SplitSeq(cell, "|") {
		v, err := strconv.ParseFloat(part, 64)
		if part == "" {
			v, err = math.NaN(), nil
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// sifted are the faults of a series, a sample a minute, in its order. missing are
// further codes, as the configuration gives them to the way in. flatN is from how many
// identical readings on they are flat; 0 is not tested.
func sifted(series []float64, of PlacedProbe, rate float64, flatN int64, missing ...float64) string {
	var v Sieve
	out := make([]string, len(series))
	start := time.Date(2031, 4, 7, 0, 0, 0, 0, time.UTC)
	at := func(s Sample) int { return int(s.At.Sub(start) / time.Minute) }
	for i, value := range series {
		r := Reading{Measured: start.Add(time.Duration(i) * time.Minute), Value: value}
		if reason, ok := signal.Check(value, string(of.Placement), missing...); !ok {
			r.Quality, r.Reason = Bad, reason
		}
		one := judge(r, of.Placement)
		if len(missing) > 0 && one.fault == signal.Sentinel && !slices.Contains(missing, value) {
			one.fault = signal.Range // the sieve knows more codes than the table; both are out of range
		}
		news, refused := v.take(one, of, rate)
		for _, s := range refused {
			out[at(s.Sample)] = s.fault.String()
		}
		for _, s := range news {
			if flatN > 0 && s.run.N >= flatN {
				s.fault |= signal.Flat
			}
			out[at(s.Sample)] = s.fault.String()
		}
	}
	return strings.Join(out, "|")
}

func checkFaults(c *published.Check) {
	for _, row := range c.Rows {
		p := Placement(row.Text(c.T, "probe"))
		if got, want := signal.SpikeLimit(string(p)), row.Num(c.T, "spike_thr_C"); got != want {
			c.T.Fatalf("%s: a spike of a %s is over %g K, the table says %g", row.Where(), p, got, want)
		}
		for _, name := range []string{"range_lo", "range_hi"} {
			end, beyond := row.Num(c.T, name), math.Copysign(0.1, row.Num(c.T, name))
			if _, ok := signal.Check(end, string(p)); !ok {
				c.T.Fatalf("%s: %g is out of the range of a %s", row.Where(), end, p)
			}
			if _, ok := signal.Check(end+beyond, string(p)); ok {
				c.T.Fatalf("%s: %g is in the range of a %s", row.Where(), end+beyond, p)
			}
		}
		got := sifted(numbersIn(c.T, row.Text(c.T, "series_1min")), PlacedProbe{Placement: p, Interval: time.Minute},
			row.Num(c.T, "rate_max_C_per_min"), int64(row.Num(c.T, "flat_n")), numbersIn(c.T, row.Text(c.T, "sentinels"))...)
		want := row.Text(c.T, "flags")
		c.Holds(row, got == want, "%s: got %s, want %s", row.Text(c.T, "id"), got, want)
	}
}

func TestIdenticalReadings(t *testing.T) {
	got := sifted([]float64{50, 50.1, 50.1, 50.1, 50.1, 50.1, 50.1, 50.2, 50.1}, PlacedProbe{Placement: Core, Interval: time.Minute}, 2.5, 5)
	if want := "|||||flat|flat||"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// 85.0 is a smoker's temperature beside others like it, and the first word of a
// sensor that just started.
func TestDoubtfulCode(t *testing.T) {
	for series, want := range map[string]string{
		"85|84|83": "||", "85|30|31": "spike||", "83|84|85|86": "|||", "20|21|85|23": "||spike|", "20|-127|999.9|21": "|sentinel|sentinel|",
		"20||400|21": "|missing|range|",
	} {
		if got := sifted(numbersIn(t, series), PlacedProbe{Placement: Chamber, Interval: time.Minute}, 60, 0); got != want {
			t.Errorf("%s: %s, want %s", series, got, want)
		}
	}
	if got := sifted([]float64{3, 85, 3.1}, PlacedProbe{Placement: Product, Interval: time.Minute}, 8, 0); got != "|sentinel|" {
		t.Errorf("in a fridge: %s", got)
	}
}

// A sieve goes on from its stored form as if nothing had been.
func TestTheSieveIsKept(t *testing.T) {
	of := PlacedProbe{Placement: Product, Interval: time.Minute}
	var a, b Sieve
	for i := range 300 {
		v := 3 + 0.1*math.Round(3*math.Sin(float64(i)))
		switch {
		case i%37 == 0:
			v = math.NaN()
		case i%41 == 0:
			v += 9
		case i > 150 && i < 170:
			v = v*1.8 + 32
		}
		text, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		b = Sieve{}
		if err := json.Unmarshal(text, &b); err != nil {
			t.Fatal(err)
		}
		one := judge(Reading{Measured: noon.Add(time.Duration(i) * time.Minute), Value: v}, Product)
		news, refused := a.take(one, of, 8)
		again, refusedAgain := b.take(one, of, 8)
		if !reflect.DeepEqual(news, again) || len(refused) != len(refusedAgain) {
			t.Fatalf("reading %d: %v, from the stored form %v", i, news, again)
		}
	}
	if a.Unit.Open() || a.Newest.Value > 4 {
		t.Errorf("turned back after twenty readings: %+v", a)
	}
}

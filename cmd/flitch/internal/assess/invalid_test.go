package assess

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

// invalid are numbers that are no measurement of a placement, and one that stands alone
// between its neighbours.
func invalid(chance *rand.Rand, placement string, beside float64) string {
	codes := []float64{-127, 999.9, 327.67, -327.67, 2000, -60, -196.6}
	lone := map[string]float64{"core": 22, "chamber": 160, "air": 31, "product": 31}[placement]
	if placement == "air" || placement == "product" {
		codes = append(codes, 85)
	}
	if n := chance.IntN(len(codes) + 3); n < len(codes) {
		return fmt.Sprint(codes[n])
	}
	if chance.IntN(2) == 0 {
		lone = -lone / 2
	}
	return fmt.Sprintf("%.2f", beside+lone)
}

// A read is a line of a logger's file.
type read struct {
	at        time.Time
	placement string
	value     float64
}

func reads(t *testing.T, file string) (list []read) {
	t.Helper()
	for line := range strings.Lines(strings.TrimPrefix(file, header)) {
		cells := strings.Split(line, ",")
		at, err := time.Parse(time.RFC3339, cells[0])
		if err != nil {
			t.Fatal(err)
		}
		v, err := strconv.ParseFloat(cells[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, read{at, cells[1], v})
	}
	return list
}

// spoiled is the file with invalid readings between the good ones, and how many. Where
// the series jumps by itself nothing is put: two readings in a row that stand apart are
// no lone one, and nobody could tell which is true.
func spoiled(t *testing.T, chance *rand.Rand, file string) (string, int) {
	t.Helper()
	list := reads(t, file)
	var out strings.Builder
	out.WriteString(header)
	n := 0
	last := map[string]read{}
	quiet := map[string]int{}
	for i, r := range list {
		before := last[r.placement]
		limit := map[string]float64{"core": 0.9, "chamber": 5, "air": 1.9, "product": 1}[r.placement]
		if d := r.value - before.value; d > limit || d < -limit || before.at.IsZero() {
			quiet[r.placement] = 0
		}
		quiet[r.placement]++
		last[r.placement] = r
		fmt.Fprintf(&out, "%s,%s,%g,C\n", r.at.Format(time.RFC3339), r.placement, r.value)
		next := slices.IndexFunc(list[i+1:], func(o read) bool { return o.placement == r.placement })
		if quiet[r.placement] < 3 || next < 0 || chance.IntN(25) > 0 {
			continue
		}
		after := list[i+1+next]
		if d := after.value - r.value; d > limit || d < -limit {
			continue
		}
		fmt.Fprintf(&out, "%s,%s,%s,C\n", r.at.Add(after.at.Sub(r.at)/3).Format(time.RFC3339), r.placement, invalid(chance, r.placement, r.value))
		n++
	}
	return out.String(), n
}

// told are the alarms of a report that are not about our blindness, without their times.
func told(r *Report) (out []string) {
	for _, a := range r.Alarms {
		if !strings.HasPrefix(a.ID, "B") {
			out = append(out, fmt.Sprintf("%s %s raised, over %t", a.ID, a.Level, !a.Cleared.IsZero()))
		}
	}
	return out
}

// apart is the longest that the n-th alarms of two reports are apart.
func apart(a, b *Report) (longest time.Duration) {
	times := func(r *Report) (out []time.Time) {
		for _, one := range r.Alarms {
			if !strings.HasPrefix(one.ID, "B") {
				out = append(out, one.Raised, one.Cleared)
			}
		}
		return out
	}
	x, y := times(a), times(b)
	for i := range x {
		longest = max(longest, x[i].Sub(y[i]).Abs())
	}
	return longest
}

// Invalid readings, put by chance into the labelled series, raise no alarm and clear none
// beyond those about our own blindness, move none by more than one reading, and bring no
// clock nearer to being met.
func TestInvalidReadingsChangeNothing(t *testing.T) {
	cook := "time,event,detail\n" + began.Format(time.RFC3339) + ",stage,cook\n"
	chill := cook + began.Format(time.RFC3339) + ",stage,chill\n"
	chills, _ := chills(t)
	put := 0
	for _, set := range []struct {
		series map[string]string
		events string
		every  time.Duration
	}{
		{scenarios(t, "cook_scenarios.csv", map[string]string{"chamber_C": "chamber", "core_C": "core"}), cook, time.Minute},
		{chills, chill, time.Minute},
		{scenarios(t, "fridge_scenarios.csv", map[string]string{"air_C": "air", "product_true_C": "product"}), "", 2 * time.Minute},
		{scenarios(t, "fridge_scenarios.csv", map[string]string{"air_C": "air"}), "", 2 * time.Minute},
	} {
		if len(set.series) < 5 {
			t.Fatalf("%d series", len(set.series))
		}
		for name, file := range set.series {
			want := assessed(t, plan(t, "B3"), file, set.events)
			for seed := range uint64(2) {
				dirty, n := spoiled(t, rand.New(rand.NewPCG(seed, 7)), file)
				put += n
				got := assessed(t, plan(t, "B3"), dirty, set.events)
				if a, b := told(want), told(got); !slices.Equal(a, b) {
					t.Errorf("%s, seed %d, %d put in:\nbefore %q\nafter  %q", name, seed, n, a, b)
					continue
				}
				if d := apart(want, got); d > set.every {
					t.Errorf("%s, seed %d: an alarm moved by %s", name, seed, d)
				}
				for i, c := range want.Clocks {
					checkNotHelped(t, fmt.Sprintf("%s, seed %d", name, seed), c, got.Clocks[i])
				}
				bad := int64(0)
				for _, p := range got.Probes {
					bad += p.Bad
				}
				for _, p := range want.Probes {
					bad -= p.Bad
				}
				if bad < int64(n) {
					t.Errorf("%s, seed %d: %d put in, %d more counted", name, seed, n, bad)
				}
			}
		}
	}
	if put < 700 {
		t.Errorf("only %d invalid readings in all", put)
	}
}

// A sum may move by what a line drawn from other ends differs.
const aLine = 0.02

func checkNotHelped(t *testing.T, name string, before, after process.Clock) {
	t.Helper()
	helped := before.Sum - after.Sum
	if before.AtLeast {
		helped = -helped
	}
	if helped > aLine*max(1, before.Sum) || after.Verdict == process.Met && before.Verdict != process.Met {
		t.Errorf("%s: %s came to %.3f (%s), with invalid readings to %.3f (%s)", name, before.Name, before.Sum, before.Verdict, after.Sum, after.Verdict)
	}
}

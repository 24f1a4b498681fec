package assess

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/plans"
)

// A logger's file of nine days with four probes that speak every five seconds.
const (
	nineDays     = 9 * 24 * time.Hour
	every        = 5 * time.Second
	fourProbes   = 4
	ofEachProbe  = int64(nineDays / every)
	fireLit      = 8 * 24 * time.Hour
	intoTheCold  = fireLit + 6*time.Hour
	assessLimitS = 5.0
)

// BenchmarkAssess is the whole way from the bytes of the file to the report. The
// limit is a number of ours: five seconds. The median of the rounds counts.
func BenchmarkAssess(b *testing.B) {
	p, err := plans.BuiltIn("belly-dry-cured-fully-cooked")
	if err != nil {
		b.Fatal(err)
	}
	readings, events := nineDaysOfReadings(), nineDaysOfEvents()
	var took []float64
	b.ReportAllocs()
	b.SetBytes(int64(len(readings)))
	for b.Loop() {
		began := time.Now()
		report, err := Run(Request{Plan: p, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}},
			Readings: bytes.NewReader(readings), Events: bytes.NewReader(events), Fuel: alerts.Wood})
		if err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(began).Seconds())
		asExpected(b, report)
	}
	slices.Sort(took)
	median := took[len(took)/2]
	fmt.Printf("bench assess_nine_days %.2f s %.0f %.2f\n", median, assessLimitS, median/assessLimitS)
}

// asExpected keeps the benchmark from being fast because it does nothing.
func asExpected(b *testing.B, r *Report) {
	b.Helper()
	if len(r.Left) > 0 || len(r.Probes) != fourProbes {
		b.Fatalf("%d rows left out, %d probes", len(r.Left), len(r.Probes))
	}
	for _, p := range r.Probes {
		if p.Believed != ofEachProbe {
			b.Errorf("%s: %d readings believed, want %d", p.Probe, p.Believed, ofEachProbe)
		}
	}
	for _, c := range r.Clocks {
		if c.Name == process.ClockLethality && c.Verdict != process.Met {
			b.Errorf("lethality %q: the file is a cook that meets its row", c.Verdict)
		}
	}
}

func nineDaysOfEvents() []byte {
	text := []byte("time,event,detail\n")
	line := func(after time.Duration, rest string) {
		text = fmt.Appendf(text, "%s,%s\n", began.Add(after).Format(time.RFC3339), rest)
	}
	line(0, "stage,cure")
	for day := range 7 {
		line(time.Duration(day)*24*time.Hour+9*time.Hour, "turned,")
	}
	line(7*24*time.Hour, "stage,rinse")
	line(7*24*time.Hour+30*time.Minute, "stage,dry")
	line(fireLit, "stage,cook")
	line(intoTheCold, "stage,chill")
	return text
}

// nineDaysOfReadings is a cure in a fridge that switches and is opened, a cook and
// a chill, with some noise, as a logger writes it: one line for each probe.
func nineDaysOfReadings() []byte {
	r := rand.New(rand.NewPCG(1, 9))
	text := make([]byte, 0, 40*fourProbes*ofEachProbe)
	text = append(text, header...)
	for after := time.Duration(0); after < nineDays; after += every {
		stamp := began.Add(after).Format(time.RFC3339)
		for _, probe := range []struct {
			name  string
			value float64
		}{
			{"product", fridge(after, 0.3)}, {"air", fridge(after, 1.2)}, {"chamber", chamber(after)}, {"core", core(after)},
		} {
			text = append(append(append(append(text, stamp...), ','), probe.name...), ',')
			text = strconv.AppendFloat(text, probe.value+0.05*r.NormFloat64(), 'f', 2, 64)
			text = append(text, ",C\n"...)
		}
	}
	return text
}

// fridge swings with its compressor, and is opened in the morning.
func fridge(after time.Duration, swing float64) float64 {
	h := after.Hours()
	sinceDoor := math.Mod(h+15, 24) // from 9 h
	return 3 + swing*math.Sin(2*math.Pi*h/0.4) + 2*swing*math.Exp(-sinceDoor/0.1)
}

func chamber(after time.Duration) float64 {
	switch lit := (after - fireLit).Hours(); {
	case lit < 0:
		return 18
	case after < intoTheCold:
		return 80 - 62*math.Exp(-lit/0.4) + 1.5*math.Sin(2*math.Pi*lit/0.3)
	}
	return 18 + 62*math.Exp(-(after-intoTheCold).Hours()/0.8)
}

func core(after time.Duration) float64 {
	warm := func(lit float64) float64 { return 80 - 76*math.Exp(-lit/3) }
	switch {
	case after < fireLit:
		return 4
	case after < intoTheCold:
		return warm((after - fireLit).Hours())
	}
	return 2 + (warm((intoTheCold-fireLit).Hours())-2)*math.Exp(-(after-intoTheCold).Hours()/2.5)
}

package record

import (
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

func TestChartIsWellFormed(t *testing.T) {
	r := sample(t)
	for _, v := range []View{{}, {Width: 340, Height: 300}, {From: at("00:00"), To: at("02:30")}, {From: at("08:30"), To: at("08:30")}} {
		var b strings.Builder
		if err := r.Chart(&b, v); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, []byte(b.String()))
		if strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), "Inf") {
			t.Errorf("%+v: the picture holds a number that is none", v)
		}
	}
}

func TestNoLineAcrossAGap(t *testing.T) {
	r := sample(t)
	traces, err := r.traces(r.window(View{}))
	if err != nil {
		t.Fatal(err)
	}
	if len(traces) != 4 {
		t.Fatalf("%d traces, want 4", len(traces))
	}
	for _, trace := range traces {
		if len(trace.pieces) != 2 {
			t.Errorf("%s: %d pieces, want 2: before and after the silence", trace.label, len(trace.pieces))
		}
		for _, piece := range trace.pieces {
			first, last := piece[0].x, piece[len(piece)-1].x
			if first < seconds(at("01:30")) && last > seconds(at("01:30")) {
				t.Errorf("%s: a line crosses 01:30, when nothing was told", trace.label)
			}
		}
	}
	gaps := blind(traces, r.window(View{}))
	want := [2]float64{seconds(at("01:00")), seconds(at("01:50"))}
	if len(gaps) != 1 || gaps[0] != want {
		t.Errorf("grey ground %v, want one from 01:00 to 01:50", gaps)
	}
}

// The picture itself, not only the traces: each stroked path of a line ends
// before the silence or starts after it.
func TestPictureHasNoStrokeAcrossTheGap(t *testing.T) {
	r := sample(t)
	r.Limits, r.Stages, r.Alarms, r.Entries = nil, nil, nil, nil
	var b strings.Builder
	if err := r.Chart(&b, View{}); err != nil {
		t.Fatal(err)
	}
	wide := 0
	for _, path := range regexp.MustCompile(`<path d="M[^"]*"[^>]*stroke-width:(1\.6|2)[^>]*>`).FindAllString(b.String(), -1) {
		if strings.Count(path, "L") > 10 {
			wide++
		}
	}
	if wide != 8 {
		t.Errorf("%d long strokes, want 8: two for each of four probes", wide)
	}
}

func TestSilenceShorterThanThreeIntervalsIsNoGap(t *testing.T) {
	for _, c := range []struct {
		interval, silence time.Duration
		pieces            int
	}{
		{10 * time.Second, 5 * time.Minute, 1},
		{10 * time.Second, 5*time.Minute + time.Second, 2},
		{5 * time.Minute, 15 * time.Minute, 1},
		{5 * time.Minute, 16 * time.Minute, 2},
	} {
		tr := trace{gap: gapAfter(c.interval), column: 1}
		tr.add(point{0, 1})
		tr.add(point{c.silence.Seconds(), 1})
		tr.flush()
		if len(tr.pieces) != c.pieces {
			t.Errorf("interval %v, silence %v: %d pieces, want %d", c.interval, c.silence, len(tr.pieces), c.pieces)
		}
	}
}

func TestExtremesOfAColumnStay(t *testing.T) {
	tr := trace{gap: time.Hour, column: 3600}
	for i := range 3600 {
		tr.add(point{float64(i), math.Sin(float64(i) / 10)})
	}
	tr.add(point{1800.5, 99}) // a spike of one reading
	tr.flush()
	if n := len(tr.pieces[0]); n > 4 {
		t.Errorf("%d points in one column, want at most 4", n)
	}
	highest := math.Inf(-1)
	for _, p := range tr.pieces[0] {
		highest = max(highest, p.y)
	}
	if highest != 99 {
		t.Errorf("highest point is %v, the spike of 99 is gone", highest)
	}
}

func TestBadAndTypedReadingsAreNotPartOfALine(t *testing.T) {
	r := sample(t)
	rows := []Row{row(at("00:00"), "p", process.Core, "A", 20), row(at("00:01"), "p", process.Core, "A", 85), row(at("00:02"), "p", process.Core, "A", 70)}
	rows[1].Quality, rows[2].Source = process.Bad, Entered
	r.Readings = func(yield func(Row) error) error { return yieldAll(rows, yield) }
	traces, err := r.traces(r.window(View{}))
	if err != nil {
		t.Fatal(err)
	}
	if len(traces) != 1 || len(traces[0].pieces) != 1 || len(traces[0].pieces[0]) != 1 || traces[0].pieces[0][0].y != 20 {
		t.Errorf("got %+v, want the one good reading", traces)
	}
}

func TestAxisShowsTheSitesUnit(t *testing.T) {
	for fahrenheit, want := range map[bool]string{false: ">°C<", true: ">°F<"} {
		r := sample(t)
		r.Site.Fahrenheit = fahrenheit
		var b strings.Builder
		if err := r.Chart(&b, View{}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), want) {
			t.Errorf("Fahrenheit %v: no axis label %s", fahrenheit, want)
		}
	}
}

// Both nights of a clock change: 2026-10-25 has 25 hours in Berlin, 2026-03-29 has 23.
func TestTicksAreTrueLocalTimes(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for day, hours := range map[string]int{"2026-10-25": 25, "2026-03-29": 23} {
		from, err := time.ParseInLocation("2006-01-02", day, zone)
		if err != nil {
			t.Fatal(err)
		}
		v := View{From: from, To: from.AddDate(0, 0, 1)}
		ticks := localTicks(v, zone, 26)
		inside := 0
		for _, tick := range ticks {
			if tick.Value < seconds(v.To) {
				inside++
			}
		}
		if inside != hours {
			t.Errorf("%s: %d hourly marks, want %d", day, inside, hours)
		}
	}
}

func TestTicksNeverCrowd(t *testing.T) {
	from := at("00:00")
	for _, span := range []time.Duration{time.Hour, 7 * time.Hour, 26 * time.Hour, 9 * 24 * time.Hour, 400 * 24 * time.Hour} {
		ticks := localTicks(View{From: from, To: from.Add(span)}, time.UTC, 6)
		inside := 0
		for _, tick := range ticks {
			if tick.Value >= seconds(from) && tick.Value <= seconds(from.Add(span)) {
				inside++
			}
		}
		if inside < 1 || inside > 7 {
			t.Errorf("%v: %d marks, want 1 to 7", span, inside)
		}
	}
}

package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"flitch/process"
	"flitch/process/series"
)

// dawn is when the pictures of these tests begin.
var dawn = time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)

func at(after time.Duration) time.Time { return dawn.Add(after) }

// line is a probe that reads something every five seconds, but for some silence.
func line(p process.Placement, piece string, lasts time.Duration, silent func(time.Duration) bool, value func(hours float64) float64) Line {
	s := new(series.Series)
	for after := time.Duration(0); after < lasts; after += 5 * time.Second {
		if silent == nil || !silent(after) {
			s.Add(at(after), value(after.Hours()))
		}
	}
	return Line{Probe: "p-" + string(p) + piece, Placement: p, Piece: piece, Interval: 5 * time.Second, From: dawn, Readings: s}
}

func wave(mean float64) func(float64) float64 {
	return func(h float64) float64 { return mean + 3*math.Sin(h*2) }
}

// full is a chart of eight hours with one of everything.
func full() Temperatures {
	silent := func(d time.Duration) bool { return d > 2*time.Hour && d < 4*time.Hour }
	return Temperatures{
		Batch: "OL-31-09", View: View{From: dawn, To: at(8 * time.Hour), Width: 340},
		Lines:  []Line{line(process.Core, "A", 8*time.Hour, silent, wave(50)), line(process.Core, "B", 8*time.Hour, silent, wave(55)), line(process.Chamber, "", 8*time.Hour, silent, wave(80))},
		Limits: []Level{{Name: "core target <61 °C>", C: 61}},
		Sets:   []Level{{Name: "chamber set 82.0 °C", C: 82, From: at(time.Hour)}},
		Stages: []Stage{{"smoke", dawn, at(5 * time.Hour)}, {"chill", at(5 * time.Hour), time.Time{}}},
		Alarms: []Alarm{{7, at(100 * time.Minute)}},
		Typed:  []Typed{{at(150 * time.Minute), 46.5}},
		Events: []Event{{at(30 * time.Minute), "T", "turned"}, {at(31 * time.Minute), "N", "note"}, {at(32 * time.Minute), "D", "dose"}, {at(33 * time.Minute), "T", "turned"}},
	}
}

func svg(t testing.TB, draw func(io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("the picture is not well formed: %v", err)
		}
	}
	if strings.Contains(b.String(), "NaN") || strings.Contains(b.String(), "Inf") {
		t.Error("the picture holds a number that is none")
	}
	return b.String()
}

func TestThePictureHasEverything(t *testing.T) {
	picture := svg(t, full().SVG)
	for _, want := range []string{">core A<", ">core B<", ">chamber<", ">core target &lt;61 °C&gt;<", ">chamber set 82.0 °C<", ">smoke<", ">chill<", ">7<", ">hand 46.5<",
		">TND<", "D dose", "T turned", "N note", "ring: typed reading", "triangle: alarm, by number", ">no data<", ">°C<", ">local time, UTC<", `width="340"`} {
		if !strings.Contains(picture, want) {
			t.Errorf("no %s in the picture", want)
		}
	}
	if !strings.Contains(picture, "font:12px") || strings.Contains(picture, "font-size:") {
		t.Error("some lettering is not the 12 px that a phone needs")
	}
	if strings.Contains(picture, "href=") || strings.Contains(picture, "<script") {
		t.Error("the picture asks for something or runs something")
	}
}

// Nothing by colour alone: no two lines have the same dashes.
func TestEveryLineHasItsOwnDashes(t *testing.T) {
	seen := map[string]process.Placement{}
	look := func(p process.Placement, n int) {
		dashes := fmt.Sprint(lineStyle(p, n).Dashes)
		if other, taken := seen[dashes]; taken {
			t.Errorf("%s %d has the dashes of %s", p, n, other)
		}
		seen[dashes] = p
	}
	for n := range 4 {
		look(process.Core, n)
	}
	for _, p := range []process.Placement{process.Chamber, process.Product, process.Air, process.WetBulb} {
		look(p, 0)
	}
}

func TestWhatWasDoneAtOnceSharesABox(t *testing.T) {
	c := full()
	c.Events = nil
	for i := range 9 {
		for _, letter := range []string{"T", "N", "D"} {
			c.Events = append(c.Events, Event{at(time.Hour + time.Duration(i)*time.Minute), letter, "done"})
		}
	}
	c.Events = append(c.Events, Event{at(7 * time.Hour), "T", "turned"})
	picture := svg(t, c.SVG)
	for letters, want := range map[string]int{"TND": 1, "T": 1, "N": 0, "D": 0} {
		if n := strings.Count(picture, ">"+letters+"<"); n != want {
			t.Errorf("%d boxes with %s, want %d", n, letters, want)
		}
	}
}

var strokes = regexp.MustCompile(`<path d="M([^"]*)"`)

// The picture itself: no stroke of a line reaches over the pixels of a silence.
func TestNoStrokeCrossesASilence(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		from := time.Duration(rapid.IntRange(20, 200).Draw(rt, "silent from, min")) * time.Minute
		lasts := time.Duration(rapid.IntRange(9, 240).Draw(rt, "silence, min")) * time.Minute
		interval := time.Duration(rapid.IntRange(1, 2400).Draw(rt, "interval, s")) * time.Second
		l := line(process.Core, "A", 8*time.Hour, func(d time.Duration) bool { return d > from && d < from+lasts }, wave(50))
		l.Interval = interval
		c := Temperatures{Batch: "x", View: View{From: dawn, To: at(8 * time.Hour), Width: rapid.IntRange(300, 1200).Draw(rt, "width")}, Lines: []Line{l}}
		silence := lasts // from the reading before it to the one after it, within 5 s
		broken := silence > GapAfter(interval)+5*time.Second
		whole := silence < GapAfter(interval)-5*time.Second
		long := 0
		for _, path := range strokes.FindAllStringSubmatch(svg(t, c.SVG), -1) {
			if strings.Count(path[1], "L") > 10 {
				long++
			}
		}
		if broken && long != 2 || whole && long != 1 {
			rt.Errorf("interval %v, silence %v: %d strokes", interval, silence, long)
		}
	})
}

func TestNothingIsBridgedOverHalfAnHour(t *testing.T) {
	for interval, want := range map[time.Duration]time.Duration{0: 5 * time.Minute, 5 * time.Second: 5 * time.Minute, 5 * time.Minute: 15 * time.Minute, 10 * time.Minute: 30 * time.Minute, time.Hour: 30 * time.Minute} {
		if got := GapAfter(interval); got != want {
			t.Errorf("interval %v: bridged up to %v, want %v", interval, got, want)
		}
	}
}

// A spike of one reading in a week is in the picture of a phone.
func TestASpikeInAWeekIsSeen(t *testing.T) {
	spiked := func(h float64) float64 {
		if h >= 100 && h < 100+5.0/3600 {
			return 40
		}
		return 4
	}
	c := Temperatures{Batch: "x", View: View{From: dawn, To: at(7 * 24 * time.Hour), Width: 340}, Lines: []Line{line(process.Air, "", 7*24*time.Hour, nil, spiked)}}
	s := c.sheet()
	highest, n := 0.0, 0
	for _, p := range s.traces[0].pieces[0] {
		highest, n = max(highest, p.y), n+1
	}
	if highest != 40 || n > 4*(340+90) {
		t.Errorf("highest %v of %d points", highest, n)
	}
}

func TestTheGroundIsGreyWhereNothingWasTold(t *testing.T) {
	s := full().sheet()
	gaps := blind(s.traces, s.View)
	if len(gaps) != 1 || math.Abs(gaps[0][0]-seconds(at(2*time.Hour))) > 6 || math.Abs(gaps[0][1]-seconds(at(4*time.Hour))) > 6 {
		t.Errorf("grey ground %v, want one from 2 h to 4 h", gaps)
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
		inside := 0
		for _, tick := range localTicks(v, zone, 26) {
			if tick.Value < seconds(v.To) {
				inside++
			}
		}
		if inside != hours {
			t.Errorf("%s: %d hourly marks, want %d", day, inside, hours)
		}
		if z := (Scale{Zone: zone}).zones(from, v.To); len(z) != 2 || z[0].Name == z[1].Name {
			t.Errorf("%s: zones %v, want CET and CEST", day, z)
		}
	}
}

func TestTicksNeverCrowd(t *testing.T) {
	for _, span := range []time.Duration{time.Hour, 7 * time.Hour, 26 * time.Hour, 9 * 24 * time.Hour, 400 * 24 * time.Hour} {
		ticks := localTicks(View{From: dawn, To: dawn.Add(span)}, time.UTC, 6)
		inside := 0
		for _, tick := range ticks {
			if tick.Value >= seconds(dawn) && tick.Value <= seconds(dawn.Add(span)) {
				inside++
			}
		}
		if inside < 1 || inside > 7 {
			t.Errorf("%v: %d marks, want 1 to 7", span, inside)
		}
	}
}

func BenchmarkSevenDays(b *testing.B) {
	week := 7 * 24 * time.Hour
	c := Temperatures{Batch: "x", View: View{From: dawn, To: at(week), Width: 1200}, Lines: []Line{line(process.Product, "", week, nil, wave(4))}}
	for b.Loop() {
		if err := c.SVG(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

package chart

import (
	"encoding/json"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"flitch/process"
)

func wantIn(t *testing.T, picture string, all ...string) {
	t.Helper()
	for _, want := range all {
		if !strings.Contains(picture, want) {
			t.Errorf("no %q in the picture", want)
		}
	}
}

func profile() Profile {
	mid, low, high := make([]float64, 41), make([]float64, 41), make([]float64, 41)
	for i := range mid {
		xi := math.Abs(float64(i)/20 - 1)
		mid[i], low[i], high[i] = 0.3+1.4*xi*xi, 0.1+1.2*xi*xi, 0.6+9*xi*xi // the face is far above the picture
	}
	return Profile{Title: "Cure inside <A>", ThicknessMM: 38, FirstFace: "skin", LastFace: "flesh face", Through: 0.9, Width: 344,
		Curves: []Curve{{"now 16 Jul 17:40 UTC: 30 %", mid, low, high}, {"about 21 Jul", high, mid, high}}}
}

func TestTheProfileShowsNowFinishAndBand(t *testing.T) {
	picture := svg(t, profile().SVG)
	wantIn(t, picture, "Cure inside &lt;A&gt;", ">now 16 Jul 17:40 UTC: 30 %<", ">about 21 Jul<", "counts as through: 90 %", "80 % interval", "mm from the skin to the flesh face", "% of equilibrium")
	for _, path := range strokes.FindAllStringSubmatch(picture, -1) {
		for _, xy := range regexp.MustCompile(`[ML]?([0-9.e+-]+),([0-9.e+-]+)`).FindAllStringSubmatch(path[1], -1) {
			if y, err := strconv.ParseFloat(xy[2], 64); err != nil || y < 0 || y > 280 {
				t.Fatalf("a line leaves the picture at y = %s", xy[2])
			}
		}
	}
}

// A profile of nothing is a picture all the same.
func TestAnEmptyProfileIsDrawn(t *testing.T) {
	svg(t, Profile{ThicknessMM: 38, Curves: []Curve{{Name: "now"}}}.SVG)
}

func fan(late time.Time) Fan {
	f := Fan{Title: "Forecast", Core: line(process.Core, "A", 3*time.Hour, nil, func(h float64) float64 { return 10 + 15*h }), Now: at(3 * time.Hour), NowC: 55, TargetC: 65.6, Note: "if the chamber stays", Width: 344}
	for i := range 8 {
		c := 55 + 10.6*float64(i+1)/8
		after := func(minutes int) time.Time { return at(3*time.Hour + time.Duration(minutes*(i+1)/8)*time.Minute) }
		f.Steps = append(f.Steps, FanStep{C: c, Low: after(40), Likely: after(70), High: after(130)})
	}
	f.Steps[7].High = late
	return f
}

func TestTheFanSaysWhen(t *testing.T) {
	wantIn(t, svg(t, fan(at(6*time.Hour)).SVG), "early 09:40 UTC", "likely (dashes) 10:10 UTC", "late 12:00 UTC", ">core A<", ">now<", "target 65.6 °C", "if the chamber stays")
	wantIn(t, svg(t, fan(time.Time{}).SVG), "late not today")
	f := fan(time.Time{})
	for i := range f.Steps {
		f.Steps[i].Low, f.Steps[i].Likely, f.Steps[i].High = time.Time{}, time.Time{}, time.Time{}
	}
	wantIn(t, svg(t, f.SVG), "early not today")
	f.Steps, f.Core = nil, Line{Readings: f.Core.Readings}
	svg(t, f.SVG)
}

func chill() Chill {
	l := Chill{Title: "Chill", Now: at(4 * time.Hour), Open: true, Width: 344,
		Cores: []Line{line(process.Core, "A", 4*time.Hour, nil, func(h float64) float64 { return 2 + 60*math.Exp(-h/2) })},
		Legs: []Leg{{Name: "chill A", FromC: 54.4, ToC: 26.7, Start: at(20 * time.Minute), Limit: at(110 * time.Minute), End: at(2 * time.Hour)},
			{Name: "chill B", FromC: 26.7, ToC: 7.2, Start: at(2 * time.Hour), Limit: at(7 * time.Hour)}}}
	return l
}

func TestTheChillShowsBothLegs(t *testing.T) {
	l := chill()
	picture := svg(t, l.SVG)
	wantIn(t, picture, ">chill A<", ">chill B<", "chill A: 26.7 °C by 5 May 07:50, there 5 May 08:00 UTC", "chill B: 7.2 °C by 5 May 13:00 UTC", ">core A<", ">now<")
	l.Forecast = &LegForecast{C: 7.2, At: at(6 * time.Hour), Low: at(5 * time.Hour), High: at(9 * time.Hour)}
	wantIn(t, svg(t, l.SVG), "triangle on a bar: forecast")
	l.Forecast = &LegForecast{C: 7.2, At: at(40 * time.Hour), Low: at(30 * time.Hour), High: at(90 * time.Hour)}
	wantIn(t, svg(t, l.SVG), "right of the picture")
	l.Open, l.Forecast, l.Scale.Fahrenheit = false, nil, true
	picture = svg(t, l.SVG)
	wantIn(t, picture, "45.0 °F")
	if strings.Contains(picture, ">now<") {
		t.Error("a closed batch has no now")
	}
}

// What the cross-hair is told is what the picture drew: every point of the JSON lies on
// the stroke of its line.
func TestTheHairIsThePicture(t *testing.T) {
	c := full()
	var h hair
	if err := json.Unmarshal([]byte(svgless(t, c)), &h); err != nil {
		t.Fatal(err)
	}
	drawn := map[string]bool{}
	for _, path := range strokes.FindAllStringSubmatch(svg(t, c.SVG), -1) {
		for _, p := range strings.Split(path[1], "L") {
			x, _, _ := strings.Cut(p, ",")
			if v, err := strconv.ParseFloat(x, 64); err == nil {
				drawn[strconv.FormatFloat(v, 'f', 0, 64)] = true
			}
		}
	}
	if len(h.Lines) != 3 || h.Unit != "°C" || h.Zones[0].Name != "UTC" {
		t.Fatalf("%+v", h)
	}
	for _, l := range h.Lines {
		if len(l.Pieces) != 2 {
			t.Errorf("%s: %d pieces, want two around the silence", l.Name, len(l.Pieces))
		}
		for _, piece := range l.Pieces {
			for i := 0; i < len(piece); i += 2 {
				x := h.Left + (h.Right-h.Left)*float64(piece[i])*1000/float64(h.To-h.From)
				near := false
				for d := -1.0; d <= 1; d++ {
					near = near || drawn[strconv.FormatFloat(math.Round(x)+d, 'f', 0, 64)]
				}
				if !near {
					t.Fatalf("%s: the reading at %d s is not drawn at %.1f px", l.Name, piece[i], x)
				}
			}
		}
	}
}

func svgless(t *testing.T, c Temperatures) string {
	t.Helper()
	var b strings.Builder
	if err := c.Hair(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestNamesInAPictureKeepApart(t *testing.T) {
	names := tags{in: vg.Rectangle{Max: vg.Point{X: 300, Y: 200}}}
	_ = paint(&strings.Builder{}, "x", 300, 200, func(c draw.Canvas) {
		for _, name := range []string{"one", "two", "three", "four", "two", "a name", "another", "still one", "more", "even more", "the last"} {
			names.write(c, lettering(letter, ink), name, vg.Point{X: 290, Y: 100})
		}
	})
	if len(names.placed) != 2*tagSteps+1 {
		t.Errorf("%d names in %d places", len(names.placed), 2*tagSteps+1)
	}
	for i, a := range names.placed {
		if a.Max.X > 300 || a.Min.Y < 0 {
			t.Errorf("%v leaves the picture", a)
		}
		for _, b := range names.placed[:i] {
			if a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y && a.Min.X < b.Max.X && b.Min.X < a.Max.X {
				t.Errorf("%v lies over %v", a, b)
			}
		}
	}
}

func TestStrokesAreRoundedToWhatCanBeSeen(t *testing.T) {
	for path, want := range map[string]string{
		`<path d="M12.349,7L-3.051,100.96Z"`:           `<path d="M12.3,7L-3.1,101Z"`,
		`<path d="M0,0A2.25,2.25 0 1 0 4.5,1.0000004"`: `<path d="M0,0A2.3,2.3 0 1 0 4.5,1"`,
		`<path d=""`: `<path d=""`,
	} {
		if got := string(shorter([]byte(path))); got != want {
			t.Errorf("%s became %s, want %s", path, got, want)
		}
	}
}

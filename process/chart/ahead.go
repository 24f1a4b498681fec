package chart

import (
	"io"
	"slices"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A Fan is a core on its way to a target, as far as a forecast knows it.
type Fan struct {
	Title   string
	Scale   Scale
	Core    Line // what was measured
	Now     time.Time
	NowC    float64
	TargetC float64
	Steps   []FanStep
	Note    string // what it is for: "chamber as it is, 107.2 °C"
	Width   int    // px
}

// A FanStep is when the core will be at one temperature; a zero time is not today.
type FanStep struct {
	C                 float64
	Low, Likely, High time.Time
}

const (
	fanPast  = 4 * time.Hour  // of what was measured (proposal)
	fanAhead = 14 * time.Hour // at most; what comes later leaves the picture (proposal)
)

// view is from some hours ago to the end of the fan.
func (f Fan) view(width int) View {
	end := f.Now.Add(time.Hour)
	for _, s := range f.Steps {
		for _, t := range []time.Time{s.Low, s.Likely, s.High} {
			if t.After(end) {
				end = t
			}
		}
	}
	if most := f.Now.Add(fanAhead); end.After(most) {
		end = most
	}
	return View{From: f.Now.Add(-fanPast), To: end.Add(end.Sub(f.Now) / 12), Width: width, Height: min(max(width*2/5, 300), 420)}.window()
}

// SVG draws the core as measured, then the fan: its early and late edge, the median
// between them, and the target.
func (f Fan) SVG(w io.Writer) error {
	a := ahead{scale: f.Scale, view: f.view(f.Width), levels: []Level{{Name: "target " + f.Scale.temp(f.TargetC), C: f.TargetC}}, note: append(f.words(), f.Note)}
	a.lines = Temperatures{Scale: f.Scale, View: a.view, Lines: []Line{f.Core}}.traces()
	for _, s := range f.Steps {
		a.see(s.C)
	}
	a.draw = f.fan
	return paint(w, f.Title, a.view.Width, a.view.Height, a.paint)
}

func (f Fan) fan(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	edge := func(when func(FanStep) time.Time) (out []vg.Point) {
		out = append(out, vg.Point{X: x(seconds(f.Now)), Y: y(f.Scale.Degrees(f.NowC))})
		for _, s := range f.Steps {
			if t := when(s); !t.IsZero() {
				out = append(out, vg.Point{X: x(seconds(t)), Y: y(f.Scale.Degrees(s.C))})
			}
		}
		return out
	}
	early, likely, late := edge(func(s FanStep) time.Time { return s.Low }), edge(func(s FanStep) time.Time { return s.Likely }), edge(func(s FanStep) time.Time { return s.High })
	around := early
	if len(late) < len(early) { // not today: it lies open to the right, at what it came to
		late = append(late, vg.Point{X: c.Max.X, Y: late[len(late)-1].Y})
		around = append(slices.Clone(early), vg.Point{X: c.Max.X, Y: early[len(early)-1].Y})
	}
	c.FillPolygon(haze, c.ClipPolygonX(ring(around, late)))
	thin := draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{2, 2}}
	c.StrokeLines(thin, c.ClipLinesX(early, late)...)
	c.StrokeLines(draw.LineStyle{Color: sea, Width: 2, Dashes: []vg.Length{7, 3}}, c.ClipLinesX(likely)...)
	now(c, p, f.Now)
}

// words says when the target is reached.
func (f Fan) words() []string {
	if len(f.Steps) == 0 {
		return nil
	}
	last := f.Steps[len(f.Steps)-1]
	at := func(t time.Time) string {
		if t.IsZero() {
			return "not today"
		}
		t = t.In(f.Scale.zone())
		if t.YearDay() != f.Now.In(f.Scale.zone()).YearDay() {
			return t.Format("2 Jan 15:04 MST")
		}
		return t.Format("15:04 MST")
	}
	return []string{"at the target: early " + at(last.Low), "likely (dashes) " + at(last.Likely), "late " + at(last.High)}
}

// ahead is a picture of some time before and after now, with limits.
type ahead struct {
	scale  Scale
	view   View
	lines  []*trace
	levels []Level
	seen   []float64
	note   []string
	draw   layer
}

func (a *ahead) see(c float64) { a.seen = append(a.seen, a.scale.Degrees(c)) }

func (a *ahead) paint(c draw.Canvas) {
	p := plot.New()
	p.TextHandler = lettering(letter, ink).Handler
	for _, t := range a.lines {
		for _, piece := range t.pieces {
			for _, q := range piece {
				a.seen = append(a.seen, q.y)
			}
		}
	}
	for _, l := range a.levels {
		a.see(l.C)
	}
	low, high := around(a.seen, a.scale)
	high += (high - low) * 0.06 // for the name of a limit at the top
	s := sheet{Temperatures: Temperatures{Scale: a.scale, View: a.view, Limits: a.levels}, traces: a.lines, tags: new(tags)}
	timeAxis(p, a.view, a.scale, s.margin())
	p.Y.Min, p.Y.Max = low, high
	p.Y.Padding, p.Y.Label.Text = 0, a.scale.Degree()
	letterAxis(&p.Y)
	p.Y.Tick.Marker = plot.ConstantTicks(degreeTicks(p.Y.Min, p.Y.Max, a.view.Height/38))
	notes := wrap(slices.DeleteFunc(a.note, func(n string) bool { return n == "" }), vg.Length(a.view.Width-8))
	p.Add(layer(grid), a.draw, layer(s.levels), layer(s.lines))
	picture := draw.Crop(c, 2, -s.margin(), 2+vg.Length(len(notes))*legendLine, -8)
	p.Draw(picture)
	s.names(p.DataCanvas(picture), p)
	for i, line := range notes {
		c.FillText(lettering(letter, ink), vg.Point{X: c.Min.X + 4, Y: c.Min.Y + 4 + vg.Length(len(notes)-1-i)*legendLine}, line)
	}
}

// now is a mark for the present moment.
func now(c draw.Canvas, p *plot.Plot, t time.Time) {
	x, _ := p.Transforms(&c)
	at := x(seconds(t))
	c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.8, Dashes: []vg.Length{1, 2}}, at, c.Min.Y, at, c.Max.Y)
	name := lettering(letter, ink)
	c.FillText(name, vg.Point{X: min(at+3, c.Max.X-name.Width("now")), Y: c.Min.Y + 4}, "now")
}

package chart

import (
	"io"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A Chill is the legs of a chill: the cores, and for each leg that has begun the corner
// that its core has to stay inside of.
type Chill struct {
	Title    string
	Scale    Scale
	Cores    []Line
	Now      time.Time
	Open     bool // the batch is not closed: now is marked
	Legs     []Leg
	Forecast *LegForecast // nil: none
	Width    int          // px
}

// A Leg is one leg that has begun.
type Leg struct {
	Name         string
	FromC, ToC   float64 // FromC is not drawn with AtOnce
	AtOnce       bool
	Start, Limit time.Time
	End          time.Time // zero: not yet
}

// A LegForecast is when the running leg will end, with its 80 % interval.
type LegForecast struct {
	C             float64
	At, Low, High time.Time
}

// view is a little before the first leg to a little after the last thing to show.
func (l Chill) view() View {
	from, to := l.Legs[0].Start, l.Now
	later := func(t time.Time) {
		if t.After(to) {
			to = t
		}
	}
	for _, leg := range l.Legs {
		if leg.Start.Before(from) {
			from = leg.Start
		}
		later(leg.Limit)
	}
	if f := l.Forecast; f != nil {
		last := to.Add(to.Sub(from) / 2) // a forecast for tomorrow must not press the legs flat
		later(f.High)
		if to.After(last) {
			to = last
		}
	}
	edge := max(to.Sub(from)/12, 10*time.Minute)
	return View{From: from.Add(-edge), To: to.Add(edge), Width: l.Width, Height: min(max(l.Width*2/5, 320), 420)}.window()
}

// SVG draws the cores against the limits of the legs.
func (l Chill) SVG(w io.Writer) error {
	a := ahead{scale: l.Scale, view: l.view(), draw: l.legs}
	a.lines = Temperatures{Scale: l.Scale, View: a.view, Lines: l.Cores}.traces()
	for _, leg := range l.Legs {
		a.see(leg.ToC)
		if !leg.AtOnce {
			a.see(leg.FromC)
		}
		a.note = append(a.note, l.words(leg))
	}
	if f := l.Forecast; f != nil {
		text := "triangle on a bar: forecast, with its 80 % interval"
		if f.At.After(a.view.To) {
			text = "forecast: " + f.At.In(l.Scale.zone()).Format("2 Jan 15:04") + ", right of the picture"
		}
		a.note = append(a.note, text)
	}
	return paint(w, l.Title, a.view.Width, a.view.Height, a.paint)
}

// words says how a leg stands.
func (l Chill) words(leg Leg) string {
	short := func(t time.Time) string { return t.In(l.Scale.zone()).Format("2 Jan 15:04") }
	text := leg.Name + ": " + l.Scale.temp(leg.ToC) + " by " + short(leg.Limit)
	if !leg.End.IsZero() {
		text += ", there " + short(leg.End)
	}
	return text + leg.Limit.In(l.Scale.zone()).Format(" MST")
}

// legs draws for each leg the limit: down to its temperature, by its time. A core that is
// still above the corner when its time comes has not met it.
func (l Chill) legs(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	style := draw.LineStyle{Color: brick, Width: 1.4, Dashes: []vg.Length{4, 2}}
	name := lettering(letter, brick)
	for _, leg := range l.Legs {
		top := c.Max.Y
		if !leg.AtOnce {
			top = y(l.Scale.Degrees(leg.FromC))
		}
		left, right, bottom := x(seconds(leg.Start)), x(seconds(leg.Limit)), y(l.Scale.Degrees(leg.ToC))
		c.StrokeLines(style, []vg.Point{{X: left, Y: bottom}, {X: right, Y: bottom}, {X: right, Y: top}})
		c.StrokeLine2(draw.LineStyle{Color: brick, Width: 0.8}, left, bottom, left, top)
		c.FillText(name, vg.Point{X: min(max(left+3, c.Min.X), c.Max.X-name.Width(leg.Name)), Y: bottom + 3}, leg.Name)
	}
	l.forecast(c, p)
	if l.Open {
		now(c, p, l.Now)
	}
}

func (l Chill) forecast(c draw.Canvas, p *plot.Plot) {
	f := l.Forecast
	if f == nil || seconds(f.At) > p.X.Max {
		return
	}
	x, y := p.Transforms(&c)
	at, line := y(l.Scale.Degrees(f.C)), draw.LineStyle{Color: sea, Width: 2}
	low, high := max(x(seconds(f.Low)), c.Min.X), min(x(seconds(f.High)), c.Max.X)
	c.StrokeLine2(line, low, at, high, at)
	for _, end := range []vg.Length{low, high} {
		c.StrokeLine2(line, end, at-4, end, at+4)
	}
	c.DrawGlyph(draw.GlyphStyle{Color: sea, Radius: 4, Shape: draw.PyramidGlyph{}}, vg.Point{X: x(seconds(f.At)), Y: at})
}

package chart

import (
	"fmt"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A Drawing is a picture that can be written as SVG.
type Drawing interface{ SVG(io.Writer) error }

// A Profile is the cure inside one piece: how far it has come at each depth, as a part of
// equilibrium, from one face to the other.
type Profile struct {
	Title       string
	ThicknessMM float64
	FirstFace   string // what the face at 0 mm is
	LastFace    string
	Through     float64 // part of equilibrium that counts as through
	Curves      []Curve // now, and at the finish
	Width       int     // px
}

// A Curve is one profile with its band, in even steps from 0 mm on.
type Curve struct {
	Name           string
	Mid, Low, High []float64
}

// mostPart is the highest part of equilibrium a profile shows, in per cent: the face of
// fresh meat in a bag is far above it, and would press the rest flat.
const mostPart = 180

// SVG draws the profiles, each with the edges of its band, and a legend with their dashes.
func (p Profile) SVG(w io.Writer) error {
	width := min(max(p.Width, 300), 2400)
	height := min(max(width*2/5, 280), 420)
	return paint(w, p.Title, width, height, func(c draw.Canvas) { p.draw(c, width) })
}

var curveStyles = [...]draw.LineStyle{
	{Color: ink, Width: 2},
	{Color: sea, Width: 2, Dashes: []vg.Length{7, 3}},
}

var throughStyle = draw.LineStyle{Color: brick, Width: 1, Dashes: []vg.Length{2, 3}}

func (p Profile) draw(c draw.Canvas, width int) {
	pl := plot.New()
	pl.TextHandler = lettering(letter, ink).Handler
	pl.X.Min, pl.X.Max, pl.X.Padding = 0, p.ThicknessMM, 0
	pl.X.Label.Text = fmt.Sprintf("mm from the %s to the %s", p.FirstFace, p.LastFace)
	pl.Y.Min, pl.Y.Max, pl.Y.Padding = 0, p.highest(), 0
	pl.Y.Label.Text = "% of equilibrium"
	letterAxis(&pl.X)
	letterAxis(&pl.Y)
	pl.X.Tick.Marker = plot.ConstantTicks(degreeTicks(0, p.ThicknessMM, width/60))
	pl.Y.Tick.Marker = plot.ConstantTicks(degreeTicks(0, pl.Y.Max, 6))
	pl.Add(layer(grid), layer(p.through), layer(p.bands), layer(p.middles))
	legend := p.legend()
	pl.Draw(draw.Crop(c, 2, -6, 2+vg.Length(len(legend))*legendLine, -6))
	for i, name := range legend {
		name.draw(c, vg.Point{X: c.Min.X + 4, Y: c.Min.Y + 8 + vg.Length(len(legend)-1-i)*legendLine})
	}
}

// highest is the top of the picture, per cent.
func (p Profile) highest() float64 {
	top := 110.0
	for _, curve := range p.Curves {
		for _, v := range curve.High {
			top = max(top, 100*v)
		}
	}
	return min(math.Ceil(top/10)*10, mostPart)
}

// grid draws thin lines at the marks of both axes.
func grid(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	thin := draw.LineStyle{Color: faint, Width: 0.6}
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		c.StrokeLine2(thin, c.Min.X, y(t.Value), c.Max.X, y(t.Value))
	}
	for _, t := range p.X.Tick.Marker.Ticks(p.X.Min, p.X.Max) {
		if t.Value >= p.X.Min && t.Value <= p.X.Max {
			c.StrokeLine2(thin, x(t.Value), c.Min.Y, x(t.Value), c.Max.Y)
		}
	}
}

func (p Profile) through(c draw.Canvas, pl *plot.Plot) {
	_, y := pl.Transforms(&c)
	at := y(100 * p.Through)
	c.StrokeLine2(throughStyle, c.Min.X, at, c.Max.X, at)
}

// points are the places of values in the picture, or above its top.
func (p Profile) points(c draw.Canvas, pl *plot.Plot, values []float64) []vg.Point {
	x, y := pl.Transforms(&c)
	out := make([]vg.Point, len(values))
	for i, v := range values {
		out[i] = vg.Point{X: x(p.ThicknessMM * float64(i) / float64(max(len(values)-1, 1))), Y: y(100 * v)}
	}
	return out
}

func (p Profile) bands(c draw.Canvas, pl *plot.Plot) {
	for i, curve := range p.Curves {
		low, high := p.points(c, pl, curve.Low), p.points(c, pl, curve.High)
		if i == 0 {
			c.FillPolygon(haze, c.ClipPolygonY(ring(low, high)))
		}
		edge := curveStyles[i%len(curveStyles)]
		edge.Width = 0.7
		c.StrokeLines(edge, c.ClipLinesY(low, high)...)
	}
}

// ring is the outline of a band: along its lower edge and back along the upper one.
func ring(low, high []vg.Point) []vg.Point {
	out := append([]vg.Point(nil), low...)
	for i := len(high) - 1; i >= 0; i-- {
		out = append(out, high[i])
	}
	return out
}

func (p Profile) middles(c draw.Canvas, pl *plot.Plot) {
	for i, curve := range p.Curves {
		c.StrokeLines(curveStyles[i%len(curveStyles)], c.ClipLinesY(p.points(c, pl, curve.Mid))...)
	}
}

// A sample is a line of a legend: a piece of the line, and words.
type sample struct {
	style draw.LineStyle
	words string
}

func (s sample) draw(c draw.Canvas, at vg.Point) {
	words := lettering(letter, ink)
	words.YAlign = draw.YCenter
	if s.style.Width > 0 {
		c.StrokeLine2(s.style, at.X, at.Y, at.X+28, at.Y)
		at.X += 34
	}
	c.FillText(words, at, s.words)
}

func (p Profile) legend() []sample {
	var out []sample
	for i, curve := range p.Curves {
		out = append(out, sample{curveStyles[i%len(curveStyles)], curve.Name})
	}
	out = append(out, sample{throughStyle, fmt.Sprintf("counts as through: %.0f %%", 100*p.Through)})
	return append(out, sample{words: "thin lines: 80 % interval of the diffusivity"})
}

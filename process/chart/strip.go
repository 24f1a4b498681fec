package chart

import (
	"image/color"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// stageBars draws the row of stages above the picture. A bar too short for its
// name stays without; the table of stages has them all.
func (s sheet) stageBars(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	bottom := c.Max.Y + s.eventRow() + rowGap
	fills := [...]color.Color{color.RGBA{0xf3, 0xec, 0xdc, 0xff}, color.RGBA{0xe2, 0xd6, 0xbb, 0xff}}
	name := lettering(letter, ink)
	name.XAlign, name.YAlign = draw.XCenter, draw.YCenter
	for i, stage := range s.Stages {
		from, to, ok := s.span(stage.From, stage.To)
		if !ok {
			continue
		}
		left, right := x(from), x(to)
		c.FillPolygon(fills[i%len(fills)], box(left, bottom, right, bottom+bars))
		c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.8}, left, bottom, left, bottom+bars)
		if name.Width(stage.Name)+4 < right-left {
			c.FillText(name, vg.Point{X: (left + right) / 2, Y: bottom + bars/2}, stage.Name)
		}
	}
}

// alarmMarks draws a triangle with its number for each alarm, at the moment it
// was raised, and a thin line down through the picture. Numbers that would cover
// the one before are left out; the table has them all.
func (s sheet) alarmMarks(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	bottom := c.Max.Y + s.eventRow() + rowGap + bars
	number := lettering(letter, brick)
	number.XAlign = draw.XCenter
	free := c.Min.X
	for _, a := range s.Alarms {
		if !s.View.has(a.At) {
			continue
		}
		at := x(seconds(a.At))
		c.StrokeLine2(draw.LineStyle{Color: brick, Width: 0.7, Dashes: []vg.Length{1, 2}}, at, c.Min.Y, at, bottom)
		c.DrawGlyphNoClip(draw.GlyphStyle{Color: brick, Radius: 4, Shape: draw.PyramidGlyph{}}, vg.Point{X: at, Y: bottom + 6})
		text := strconv.FormatInt(a.Number, 10)
		if half := number.Width(text) / 2; at-half >= free {
			c.FillText(number, vg.Point{X: at, Y: bottom + 12}, text)
			free = at + half + 3
		}
	}
}

package chart

import (
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// ground draws grey where nothing was told, and thin lines at the round numbers.
func (s sheet) ground(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	for _, gap := range blind(s.traces, s.View) {
		left, right := x(gap[0]), x(gap[1])
		c.FillPolygon(grey, box(left, c.Min.Y, right, c.Max.Y))
		style := lettering(letter, ink)
		style.XAlign, style.YAlign = draw.XCenter, draw.YCenter
		if style.Width("no data")+4 < right-left {
			c.FillText(style, vg.Point{X: (left + right) / 2, Y: c.Max.Y - letter}, "no data")
		}
	}
	grid(c, p)
}

// levels draws each limit and each set point over the time it applied, with its name.
func (s sheet) levels(c draw.Canvas, p *plot.Plot) {
	s.tags.in = c.Rectangle
	for _, l := range s.Limits {
		s.level(c, p, l, draw.LineStyle{Color: brick, Width: 1, Dashes: []vg.Length{2, 3}})
	}
	for _, l := range s.Sets {
		s.level(c, p, l, draw.LineStyle{Color: ochre, Width: 1, Dashes: []vg.Length{6, 3, 1, 3}})
	}
}

func (s sheet) level(c draw.Canvas, p *plot.Plot, l Level, style draw.LineStyle) {
	x, y := p.Transforms(&c)
	from, to, ok := s.span(l.From, l.To)
	if !ok {
		return
	}
	at := y(s.Scale.Degrees(l.C))
	c.StrokeLine2(style, x(from), at, x(to), at)
	s.tags.write(c, lettering(letter, style.Color), l.Name, vg.Point{X: x(from) + 3, Y: at + 3})
}

// lines draws the traces piece by piece. A piece of one reading is a dot.
func (s sheet) lines(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for i, t := range s.traces {
		style := lineStyle(t.placement, s.nth(i))
		for _, piece := range t.pieces {
			path := make([]vg.Point, len(piece))
			for j, q := range piece {
				path[j] = vg.Point{X: x(q.x), Y: y(q.y)}
			}
			if len(path) == 1 {
				c.DrawGlyphNoClip(draw.GlyphStyle{Color: style.Color, Radius: 1.5, Shape: draw.CircleGlyph{}}, path[0])
				continue
			}
			c.StrokeLines(style, path)
		}
	}
}

// nth counts the traces of the same placement before trace i.
func (s sheet) nth(i int) (n int) {
	for _, t := range s.traces[:i] {
		if t.placement == s.traces[i].placement {
			n++
		}
	}
	return n
}

// hands draws the readings people typed, as rings that no line joins.
func (s sheet) hands(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	ring := draw.GlyphStyle{Color: ink, Radius: 4, Shape: draw.RingGlyph{}}
	name := lettering(letter, ink)
	s.eachTyped(func(t Typed) {
		at := vg.Point{X: x(seconds(t.At)), Y: y(s.Scale.Degrees(t.C))}
		c.DrawGlyphNoClip(ring, at)
		s.tags.write(c, name, "hand "+decimal(s.Scale.Degrees(t.C)), vg.Point{X: at.X + 7, Y: at.Y + 5})
	})
}

// margin is the room to the right of the picture for the names of the lines.
func (s sheet) margin() vg.Length {
	labels := make([]string, len(s.traces))
	for i, t := range s.traces {
		labels[i] = t.label
	}
	return nameRoom(labels, s.View.Width)
}

func nameRoom(labels []string, width int) vg.Length {
	style := lettering(letter, ink)
	widest := vg.Length(0)
	for _, l := range labels {
		widest = max(widest, style.Width(l))
	}
	return min(widest+swatch+10, vg.Length(width)/3)
}

// names writes each line's name at the height where the line ends, moved apart
// where two would cover each other, with a short sample of its dashes.
func (s sheet) names(c draw.Canvas, p *plot.Plot) {
	_, y := p.Transforms(&c)
	type name struct {
		at    vg.Length
		trace int
	}
	var all []name
	for i, t := range s.traces {
		piece := t.pieces[len(t.pieces)-1]
		all = append(all, name{y(piece[len(piece)-1].y), i})
	}
	slices.SortStableFunc(all, func(a, b name) int { return int(b.at*100) - int(a.at*100) })
	const line = letter + 2
	top := c.Max.Y
	for i := range all {
		all[i].at = min(all[i].at, top)
		top = all[i].at - line
	}
	lowest := c.Min.Y
	for i := len(all) - 1; i >= 0; i-- {
		all[i].at = max(all[i].at, lowest)
		lowest = all[i].at + line
	}
	for _, n := range all {
		t := s.traces[n.trace]
		style := lineStyle(t.placement, s.nth(n.trace))
		c.StrokeLine2(style, c.Max.X+4, n.at, c.Max.X+4+swatch, n.at)
		lettered := lettering(letter, style.Color)
		lettered.YAlign = draw.YCenter
		c.FillText(lettered, vg.Point{X: c.Max.X + 7 + swatch, Y: n.at}, t.label)
	}
}

func box(left, bottom, right, top vg.Length) []vg.Point {
	return []vg.Point{{X: left, Y: bottom}, {X: right, Y: bottom}, {X: right, Y: top}, {X: left, Y: top}}
}

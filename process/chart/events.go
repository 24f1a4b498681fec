package chart

import (
	"slices"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

const (
	legendLine = 16 // px
	boxSide    = 14 // px, of a letter
	boxRows    = 3  // of letters above each other; more are in the record
)

// events draws what people did as letters in boxes along the bottom, above each other
// where they would touch.
func (s sheet) events(c draw.Canvas, p *plot.Plot) {
	x, _ := p.Transforms(&c)
	name := lettering(letter, ink)
	name.XAlign, name.YAlign = draw.XCenter, draw.YCenter
	var free [boxRows]vg.Length
	last := map[string]vg.Length{}
	for _, e := range s.sorted() {
		at := min(max(x(seconds(e.At)), c.Min.X+boxSide/2), c.Max.X-boxSide/2)
		if before, ok := last[e.Letter]; ok && at-before < boxSide {
			continue // the same thing done to each piece is one mark
		}
		last[e.Letter] = at
		row := slices.IndexFunc(free[:], func(f vg.Length) bool { return at-boxSide/2 >= f })
		if row < 0 {
			continue
		}
		free[row] = at + boxSide/2 + 1
		bottom := c.Min.Y + 2 + vg.Length(row)*(boxSide+1)
		corners := box(at-boxSide/2, bottom, at+boxSide/2, bottom+boxSide)
		c.FillPolygon(paper, corners)
		c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.8}, append(corners, corners[0]))
		c.FillText(name, vg.Point{X: at, Y: bottom + boxSide/2}, e.Letter)
	}
}

// sorted are the events of the view in the order they happened.
func (s sheet) sorted() []Event {
	var out []Event
	for _, e := range s.Events {
		if s.View.has(e.At) {
			out = append(out, e)
		}
	}
	slices.SortStableFunc(out, func(a, b Event) int { return a.At.Compare(b.At) })
	return out
}

// wrapped is the legend of the marks that are in the view, in lines that fit.
func (s sheet) wrapped() []string {
	var words []string
	for _, e := range s.sorted() {
		if w := e.Letter + " " + e.Word; !slices.Contains(words, w) {
			words = append(words, w)
		}
	}
	slices.Sort(words)
	if !s.AsOf.IsZero() {
		words = append([]string{"as of " + s.Scale.stamp(s.AsOf)}, words...)
	}
	typed, rang := false, false
	s.eachTyped(func(Typed) { typed = true })
	for _, a := range s.Alarms {
		rang = rang || s.View.has(a.At)
	}
	if typed {
		words = append(words, "ring: typed reading")
	}
	if rang {
		words = append(words, "triangle: alarm, by number")
	}
	return wrap(words, vg.Length(s.View.Width-8))
}

func wrap(words []string, room vg.Length) []string {
	style := lettering(letter, ink)
	var lines []string
	for _, w := range words {
		if n := len(lines); n > 0 && style.Width(lines[n-1]+" · "+w) <= room {
			lines[n-1] = strings.Join([]string{lines[n-1], w}, " · ")
			continue
		}
		lines = append(lines, w)
	}
	return lines
}

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
	boxSide    = 14 // px, of a box with one letter
	letterStep = 9  // px, for each more
)

// A mark is what was done about one moment: letters that would cover each other share a box.
type mark struct {
	left    vg.Length
	letters string
}

func (m mark) right() vg.Length { return m.left + boxSide + letterStep*vg.Length(len(m.letters)-1) }

// eventRow is the room for what people did, between the stage bars and the picture.
func (s sheet) eventRow() vg.Length {
	if len(s.sorted()) == 0 {
		return 0
	}
	return boxSide + 4
}

// events draws what people did as letters in boxes above the picture.
func (s sheet) events(c draw.Canvas, p *plot.Plot) {
	name := lettering(letter, ink)
	name.XAlign, name.YAlign = draw.XCenter, draw.YCenter
	bottom := c.Max.Y + 2
	for _, m := range s.marked(c, p) {
		corners := box(m.left, bottom, m.right(), bottom+boxSide)
		c.StrokeLines(draw.LineStyle{Color: ink, Width: 0.8}, append(corners, corners[0]))
		c.FillText(name, vg.Point{X: (m.left + m.right()) / 2, Y: bottom + boxSide/2}, m.letters)
	}
}

// marked puts the events of the view into boxes that do not touch.
func (s sheet) marked(c draw.Canvas, p *plot.Plot) (out []mark) {
	x, _ := p.Transforms(&c)
	for _, e := range s.sorted() {
		left := min(max(x(seconds(e.At))-boxSide/2, c.Min.X), c.Max.X-boxSide)
		if n := len(out) - 1; n >= 0 && left < out[n].right()+1 {
			if !strings.Contains(out[n].letters, e.Letter) {
				out[n].letters += e.Letter
			}
			continue
		}
		out = append(out, mark{left, e.Letter})
	}
	return out
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

package chart

import (
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// tags are names written inside a picture, none over another and none twice.
type tags struct {
	in     vg.Rectangle
	placed []vg.Rectangle
	said   map[string]bool
}

// tagSteps is how far a name may be moved up or down to find room, in lines. (proposal)
const tagSteps = 4

// write puts a name at a point, or above or below it where that is taken. One that finds
// no room is left out; the record has them all.
func (t *tags) write(c draw.Canvas, style text.Style, name string, at vg.Point) {
	if t.said[name] {
		return
	}
	const line = letter + 2
	width := style.Width(name)
	left := max(min(at.X, t.in.Max.X-width-3), t.in.Min.X+3)
	for step := range 2*tagSteps + 1 {
		move := vg.Length((step+1)/2) * line // 0, 1 below, 1 above, 2 below ...
		if step%2 == 1 {
			move = -move
		}
		place := vg.Rectangle{Min: vg.Point{X: left, Y: at.Y + move}, Max: vg.Point{X: left + width, Y: at.Y + move + letter}}
		if !t.free(place) {
			continue
		}
		t.placed = append(t.placed, place)
		if t.said == nil {
			t.said = map[string]bool{}
		}
		t.said[name] = true
		c.FillText(style, place.Min, name)
		return
	}
}

func (t *tags) free(place vg.Rectangle) bool {
	if place.Min.Y < t.in.Min.Y || place.Max.Y > t.in.Max.Y+letter {
		return false
	}
	for _, o := range t.placed {
		if place.Min.X < o.Max.X && o.Min.X < place.Max.X && place.Min.Y < o.Max.Y && o.Min.Y < place.Max.Y {
			return false
		}
	}
	return true
}

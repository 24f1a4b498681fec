package chart

import (
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A Board is what a drawing can be put on besides SVG. Places are pixels of the drawing
// from its upper left corner.
type Board interface {
	Stroke(Stroke)
	Letter(Letters)
}

// A Stroke is a line through points, or the area they enclose.
type Stroke struct {
	Points [][2]float64
	Filled bool
	Width  float64
	Dashes []float64
	Color  color.RGBA
}

// Letters are a text with the left end of its base line. Sans-serif, as wide as Liberation
// Sans; Turn is counter-clockwise, radians.
type Letters struct {
	X, Y, Size, Turn float64
	Text             string
	Color            color.RGBA
}

// On draws the temperatures on a board: the same picture as SVG, of the same size.
func (t Temperatures) On(b Board) (width, height int) {
	s := t.sheet()
	canvas := &boardCanvas{board: b, height: float64(s.View.Height), size: vg.Point{X: vg.Length(s.View.Width), Y: vg.Length(s.View.Height)}}
	canvas.now = pen{matrix: [6]float64{1, 0, 0, 1, 0, 0}, width: 1, color: color.RGBA{A: 0xff}}
	s.draw(draw.New(canvas))
	return s.View.Width, s.View.Height
}

// A pen is how a canvas draws just now.
type pen struct {
	matrix [6]float64 // x' = m0 x + m2 y + m4, y' = m1 x + m3 y + m5
	width  float64
	dashes []float64
	color  color.RGBA
}

// A boardCanvas is the canvas of the drawing library that draws on a board.
type boardCanvas struct {
	board  Board
	height float64
	size   vg.Point
	now    pen
	stack  []pen
}

// Size implements vg.CanvasSizer.
func (c *boardCanvas) Size() (x, y vg.Length) { return c.size.X, c.size.Y }

// SetLineWidth implements vg.Canvas.
func (c *boardCanvas) SetLineWidth(w vg.Length) { c.now.width = float64(w) }

// SetLineDash implements vg.Canvas.
func (c *boardCanvas) SetLineDash(dashes []vg.Length, _ vg.Length) {
	c.now.dashes = nil
	for _, d := range dashes {
		c.now.dashes = append(c.now.dashes, float64(d))
	}
}

// SetColor implements vg.Canvas.
func (c *boardCanvas) SetColor(col color.Color) {
	if col == nil {
		col = color.Black
	}
	c.now.color, _ = color.RGBAModel.Convert(col).(color.RGBA)
}

// Rotate implements vg.Canvas.
func (c *boardCanvas) Rotate(a float64) {
	sin, cos := math.Sincos(a)
	c.times([6]float64{cos, sin, -sin, cos, 0, 0})
}

// Translate implements vg.Canvas.
func (c *boardCanvas) Translate(p vg.Point) {
	c.times([6]float64{1, 0, 0, 1, float64(p.X), float64(p.Y)})
}

// Scale implements vg.Canvas.
func (c *boardCanvas) Scale(x, y float64) { c.times([6]float64{x, 0, 0, y, 0, 0}) }

func (c *boardCanvas) times(b [6]float64) {
	a := c.now.matrix
	c.now.matrix = [6]float64{
		a[0]*b[0] + a[2]*b[1], a[1]*b[0] + a[3]*b[1],
		a[0]*b[2] + a[2]*b[3], a[1]*b[2] + a[3]*b[3],
		a[0]*b[4] + a[2]*b[5] + a[4], a[1]*b[4] + a[3]*b[5] + a[5]}
}

// Push implements vg.Canvas.
func (c *boardCanvas) Push() { c.stack = append(c.stack, c.now) }

// Pop implements vg.Canvas.
func (c *boardCanvas) Pop() {
	c.now, c.stack = c.stack[len(c.stack)-1], c.stack[:len(c.stack)-1]
}

// place is a point of the canvas on the board.
func (c *boardCanvas) place(p vg.Point) [2]float64 {
	m, x, y := c.now.matrix, float64(p.X), float64(p.Y)
	return [2]float64{m[0]*x + m[2]*y + m[4], c.height - (m[1]*x + m[3]*y + m[5])}
}

// Stroke implements vg.Canvas.
func (c *boardCanvas) Stroke(p vg.Path) {
	if c.now.width > 0 {
		c.path(p, false)
	}
}

// Fill implements vg.Canvas.
func (c *boardCanvas) Fill(p vg.Path) { c.path(p, true) }

func (c *boardCanvas) path(p vg.Path, filled bool) {
	var points [][2]float64
	end := func() {
		if len(points) > 1 {
			c.board.Stroke(Stroke{Points: points, Filled: filled, Width: c.now.width, Dashes: c.now.dashes, Color: c.now.color})
		}
		points = nil
	}
	for _, part := range p {
		switch part.Type {
		case vg.MoveComp:
			end()
			points = append(points, c.place(part.Pos))
		case vg.LineComp, vg.CurveComp: // nothing here is drawn with curves
			points = append(points, c.place(part.Pos))
		case vg.ArcComp:
			points = append(points, c.arc(part)...)
		case vg.CloseComp:
			if len(points) > 0 {
				points = append(points, points[0])
			}
		}
	}
	end()
}

// arcSteps is how many straight pieces make a circle: more are not seen at its size.
const arcSteps = 24

func (c *boardCanvas) arc(part vg.PathComp) (points [][2]float64) {
	steps := max(int(math.Ceil(math.Abs(part.Angle)/(2*math.Pi)*arcSteps)), 1)
	for i := range steps + 1 {
		sin, cos := math.Sincos(part.Start + part.Angle*float64(i)/float64(steps))
		points = append(points, c.place(vg.Point{X: part.Pos.X + part.Radius*vg.Length(cos), Y: part.Pos.Y + part.Radius*vg.Length(sin)}))
	}
	return points
}

// FillString implements vg.Canvas.
func (c *boardCanvas) FillString(f font.Face, p vg.Point, text string) {
	at := c.place(p)
	c.board.Letter(Letters{X: at[0], Y: at[1], Size: float64(f.Font.Size), Turn: math.Atan2(c.now.matrix[1], c.now.matrix[0]), Text: text, Color: c.now.color})
}

// DrawImage implements vg.Canvas. No picture here has pictures in it.
func (c *boardCanvas) DrawImage(vg.Rectangle, image.Image) {}

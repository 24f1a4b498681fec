package pdf

import (
	"math"

	"codeberg.org/go-pdf/fpdf"

	"flitch/process/chart"
)

// A board is the place of the graph on the paper: the drawing of the page and of the
// record, as lines.
type board struct {
	*sheet
	x, y, scale float64 // mm, mm, mm a pixel
}

// Stroke implements chart.Board.
func (b *board) Stroke(s chart.Stroke) {
	points := make([]fpdf.PointType, len(s.Points))
	for i, p := range s.Points {
		points[i] = fpdf.PointType{X: b.x + p[0]*b.scale, Y: b.y + p[1]*b.scale}
	}
	red, green, blue := int(s.Color.R), int(s.Color.G), int(s.Color.B)
	if s.Filled {
		b.pdf.SetFillColor(red, green, blue)
		b.pdf.Polygon(points, "F")
		return
	}
	b.pdf.SetDrawColor(red, green, blue)
	b.pdf.SetLineWidth(s.Width * b.scale)
	dashes := make([]float64, len(s.Dashes))
	for i, d := range s.Dashes {
		dashes[i] = d * b.scale
	}
	b.pdf.SetDashPattern(dashes, 0)
	b.pdf.MoveTo(points[0].X, points[0].Y)
	for _, p := range points[1:] {
		b.pdf.LineTo(p.X, p.Y)
	}
	b.pdf.DrawPath("D")
}

// Letter implements chart.Board.
func (b *board) Letter(l chart.Letters) {
	x, y := b.x+l.X*b.scale, b.y+l.Y*b.scale
	size := l.Size * b.scale / perPoint
	b.pdf.SetTextColor(int(l.Color.R), int(l.Color.G), int(l.Color.B))
	turned := math.Abs(l.Turn) > 1e-9
	if turned {
		b.pdf.TransformBegin()
		b.pdf.TransformRotate(l.Turn*180/math.Pi, x, y)
	}
	text, missing := written(l.Text, light)
	if missing {
		b.missing++
	}
	for _, r := range runs(text, light) {
		b.pdf.SetFont(r.family, light, size)
		b.pdf.Text(x, y, r.text)
		x += b.pdf.GetStringWidth(r.text)
	}
	if turned {
		b.pdf.TransformEnd()
	}
	b.pdf.SetTextColor(0, 0, 0)
}

// graph draws the temperatures over the width of the page.
func (s *sheet) graph(t chart.Temperatures) {
	scale := s.inner() / float64(t.View.Width)
	tall := float64(t.View.Height) * scale
	s.room(tall)
	t.On(&board{s, margin, s.y, scale})
	s.pdf.SetDashPattern(nil, 0)
	s.y += tall + 1
}

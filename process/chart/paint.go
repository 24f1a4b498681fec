package chart

import (
	"bytes"
	"fmt"
	"html"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// paint writes one SVG of a size in px, with a title for people who do not see it.
func paint(w io.Writer, title string, width, height int, do func(draw.Canvas)) error {
	canvas := vgsvg.New(vg.Length(width), vg.Length(height))
	whole := draw.New(canvas)
	whole.FillPolygon(paper, box(0, 0, vg.Length(width), vg.Length(height))) // a dark page must not show through
	do(whole)
	var picture bytes.Buffer
	if _, err := canvas.WriteTo(&picture); err != nil {
		return fmt.Errorf("draw %s: %w", title, err)
	}
	if _, err := w.Write(finished(picture.Bytes(), title, width, height)); err != nil {
		return fmt.Errorf("write %s: %w", title, err)
	}
	return nil
}

// finished gives the picture its title, and fonts that every phone has. The library's
// own prologue would not be allowed inside an HTML page.
func finished(picture []byte, title string, width, height int) []byte {
	if at := bytes.Index(picture, []byte("<svg")); at > 0 {
		picture = picture[at:]
	}
	for side, size := range map[string]int{"width": width, "height": height} {
		picture = bytes.Replace(picture, fmt.Appendf(nil, `%s="%dpt"`, side, size), fmt.Appendf(nil, `%s="%d"`, side, size), 1)
	}
	picture = bytes.Replace(picture, []byte("xlink\">"), []byte("xlink\" role=\"img\">\n<title>"+html.EscapeString(title)+"</title>"), 1)
	return bytes.ReplaceAll(picture, []byte("font-family:Liberation Sans"), []byte("font-family:Liberation Sans,Arial,Helvetica,sans-serif"))
}

// timeAxis makes the axis of local time, with room to the right of the picture.
func timeAxis(p *plot.Plot, v View, scale Scale, margin vg.Length) {
	p.X.Min, p.X.Max, p.X.Padding = seconds(v.From), seconds(v.To), 0
	p.X.Label.Text = "local time, " + scale.zone().String()
	letterAxis(&p.X)
	room := (v.Width - int(margin)) / perTick
	p.X.Tick.Marker = plot.ConstantTicks(localTicks(v, scale.zone(), max(room, 2)))
}

func letterAxis(axis *plot.Axis) {
	style := lettering(letter, ink)
	style.XAlign, style.YAlign = axis.Tick.Label.XAlign, axis.Tick.Label.YAlign
	axis.Tick.Label = style
	style.XAlign, style.YAlign = axis.Label.TextStyle.XAlign, axis.Label.TextStyle.YAlign
	axis.Label.TextStyle = style
}

package chart

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"math"
	"strconv"

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

// The style of lettering is the same everywhere: said once, it is a tenth of the picture
// less. The fonts are those that every phone has.
const (
	eachLetter = "font-family:Liberation Sans;font-variant:normal;font-weight:normal;font-style:normal;font-size:12px"
	allLetters = "font:12px Liberation Sans,Arial,Helvetica,sans-serif"
)

// finished gives the picture its title and fonts, and no more digits than can be seen. The
// library's own prologue would not be allowed inside an HTML page.
func finished(picture []byte, title string, width, height int) []byte {
	if at := bytes.Index(picture, []byte("<svg")); at > 0 {
		picture = picture[at:]
	}
	for side, size := range map[string]int{"width": width, "height": height} {
		picture = bytes.Replace(picture, fmt.Appendf(nil, `%s="%dpt"`, side, size), fmt.Appendf(nil, `%s="%d"`, side, size), 1)
	}
	picture = bytes.Replace(picture, []byte("xlink\">"), []byte("xlink\" role=\"img\" style=\""+allLetters+"\">\n<title>"+html.EscapeString(title)+"</title>"), 1)
	picture = bytes.ReplaceAll(picture, []byte(eachLetter+";"), nil)
	picture = bytes.ReplaceAll(picture, []byte(" style=\""+eachLetter+"\""), nil)
	return rounded(picture)
}

// rounded shortens every stroke of a picture.
func rounded(picture []byte) []byte {
	out := make([]byte, 0, len(picture))
	for {
		before, after, found := bytes.Cut(picture, []byte(`<path d="`))
		out = append(out, before...)
		if !found {
			return out
		}
		stroke, rest, _ := bytes.Cut(after, []byte(`"`))
		out = append(out, `<path d="`...)
		out = append(out, shorter(stroke)...)
		out = append(out, '"')
		picture = rest
	}
}

// shorter rounds the numbers of a stroke to a tenth of a pixel.
func shorter(path []byte) []byte {
	out := make([]byte, 0, len(path))
	for i := 0; i < len(path); {
		end := i
		for end < len(path) && (path[end] >= '0' && path[end] <= '9' || path[end] == '.') {
			end++
		}
		if end == i {
			out = append(out, path[i])
			i++
			continue
		}
		if v, err := strconv.ParseFloat(string(path[i:end]), 64); err == nil && bytes.IndexByte(path[i:end], '.') >= 0 {
			out = strconv.AppendFloat(out, math.Round(v*10)/10, 'f', -1, 64)
		} else {
			out = append(out, path[i:end]...)
		}
		i = end
	}
	return out
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

package record

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"flitch/process"
)

// A View is the part of the batch a chart shows, and its size in pixels. Zero
// times mean the whole batch, zero sizes a picture for an A4 page.
type View struct {
	From, To      time.Time
	Width, Height int // px; a chart is never narrower than 300 or wider than 2400
}

// Sizes of the chart, px.
const (
	letter  = 12 // height of the lettering
	marks   = 30 // row of alarm marks above the stage bars
	bars    = 18 // row of stage bars
	rowGap  = 6  // between the bars and the picture
	swatch  = 16 // short piece of line before a name
	perTick = 58 // least room for a time on the axis
)

// Chart draws the temperatures of the batch against local time, as one SVG
// picture that needs nothing from outside. A line is never drawn across a gap,
// and where no probe told anything the ground is grey. Of many readings in one
// column of pixels the lowest and the highest stay.
func (r *Record) Chart(w io.Writer, v View) error {
	v = r.window(v)
	traces, err := r.traces(v)
	if err != nil {
		return fmt.Errorf("record %s: draw chart: %w", r.Head.Batch, err)
	}
	canvas := vgsvg.New(vg.Length(v.Width), vg.Length(v.Height))
	s := sheet{Record: r, view: v, traces: traces}
	s.draw(draw.New(canvas))

	var picture bytes.Buffer
	if _, err := canvas.WriteTo(&picture); err != nil {
		return fmt.Errorf("record %s: draw chart: %w", r.Head.Batch, err)
	}
	_, err = w.Write(s.finished(picture.Bytes()))
	if err != nil {
		return fmt.Errorf("record %s: write chart: %w", r.Head.Batch, err)
	}
	return nil
}

func (r *Record) window(v View) View {
	if v.From.Before(r.Head.Started) { // nothing of the batch is before it
		v.From = r.Head.Started
	}
	if v.To.IsZero() {
		v.To = r.Head.Closed
	}
	if v.To.IsZero() {
		v.To = r.MadeAt
	}
	if v.To.Sub(v.From) < time.Minute {
		v.To = v.From.Add(time.Hour)
	}
	if v.Width == 0 {
		v.Width = 1000
	}
	v.Width = min(max(v.Width, 300), 2400)
	if v.Height == 0 {
		v.Height = min(max(v.Width*2/5, 300), 520)
	}
	v.Height = min(max(v.Height, 200), 2400)
	return v
}

// A sheet is one chart while it is drawn.
type sheet struct {
	*Record
	view   View
	traces []*trace
}

func (s sheet) draw(c draw.Canvas) {
	p := plot.New()
	p.TextHandler = lettering(letter, ink).Handler
	s.axes(p)
	p.Add(layer(s.ground), layer(s.limits), layer(s.lines), layer(s.hands))
	picture := draw.Crop(c, 2, -s.margin(), 2, -(marks + bars + rowGap))
	p.Draw(picture)
	inside := p.DataCanvas(picture)
	s.names(inside, p)
	s.stageBars(inside, p)
	s.alarmMarks(inside, p)
}

// A layer is one drawing step of the picture.
type layer func(draw.Canvas, *plot.Plot)

// Plot draws the layer.
func (l layer) Plot(c draw.Canvas, p *plot.Plot) { l(c, p) }

func (s sheet) axes(p *plot.Plot) {
	p.X.Min, p.X.Max = seconds(s.view.From), seconds(s.view.To)
	p.Y.Min, p.Y.Max = s.reach()
	p.X.Padding, p.Y.Padding = 0, 0
	p.X.Label.Text = "local time, " + s.Site.zone().String()
	p.Y.Label.Text = s.Site.Degree()
	for _, axis := range []*plot.Axis{&p.X, &p.Y} {
		style := lettering(letter, ink)
		style.XAlign, style.YAlign = axis.Tick.Label.XAlign, axis.Tick.Label.YAlign
		axis.Tick.Label = style
		style.XAlign, style.YAlign = axis.Label.TextStyle.XAlign, axis.Label.TextStyle.YAlign
		axis.Label.TextStyle = style
	}
	room := (s.view.Width - int(s.margin())) / perTick
	p.X.Tick.Marker = plot.ConstantTicks(localTicks(s.view, s.Site.zone(), max(room, 2)))
	p.Y.Tick.Marker = plot.ConstantTicks(degreeTicks(p.Y.Min, p.Y.Max, s.view.Height/38))
}

// reach returns the lowest and highest number the picture has to show.
func (s sheet) reach() (low, high float64) {
	var all []float64
	for _, t := range s.traces {
		for _, piece := range t.pieces {
			for _, p := range piece {
				all = append(all, p.y)
			}
		}
	}
	for _, l := range s.Limits {
		if _, _, ok := s.span(l.From, l.To); ok && l.Drawn {
			all = append(all, s.Site.Degrees(l.LineC))
		}
	}
	s.eachHand(func(e Entry) { all = append(all, s.Site.Degrees(e.Value)) })
	if len(all) == 0 {
		return s.Site.Degrees(0), s.Site.Degrees(10)
	}
	low, high = all[0], all[0]
	for _, v := range all {
		low, high = min(low, v), max(high, v)
	}
	air := max((high-low)*0.06, 1)
	return low - air, high + air
}

// span cuts an interval to the view; a zero end is open.
func (s sheet) span(from, to time.Time) (a, b float64, ok bool) {
	if from.Before(s.view.From) {
		from = s.view.From
	}
	if to.IsZero() || to.After(s.view.To) {
		to = s.view.To
	}
	return seconds(from), seconds(to), from.Before(to)
}

func (s sheet) eachHand(do func(Entry)) {
	for _, e := range s.Entries {
		if e.Kind == process.CommandReading && e.Placement.IsTemperature() &&
			!e.Happened.Before(s.view.From) && !e.Happened.After(s.view.To) {
			do(e)
		}
	}
}

// finished gives the picture a title for people who do not see it, and fonts
// that every phone has. The library's own prologue would not be allowed inside
// an HTML page.
func (s sheet) finished(picture []byte) []byte {
	if at := bytes.Index(picture, []byte("<svg")); at > 0 {
		picture = picture[at:]
	}
	for _, side := range []string{"width", "height"} {
		size := map[string]int{"width": s.view.Width, "height": s.view.Height}[side]
		picture = bytes.Replace(picture, fmt.Appendf(nil, `%s="%dpt"`, side, size), fmt.Appendf(nil, `%s="%d"`, side, size), 1)
	}
	title := html.EscapeString(fmt.Sprintf("Temperatures of batch %s in %s from %s to %s",
		s.Head.Batch, s.Site.Degree(), s.Site.Stamp(s.view.From), s.Site.Stamp(s.view.To)))
	picture = bytes.Replace(picture, []byte("xlink\">"), []byte("xlink\" role=\"img\">\n<title>"+title+"</title>"), 1)
	return bytes.ReplaceAll(picture, []byte("font-family:Liberation Sans"), []byte("font-family:Liberation Sans,Arial,Helvetica,sans-serif"))
}

package chart

import (
	"fmt"
	"io"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"flitch/process"
	"flitch/process/series"
)

// A View is the part of a batch a chart shows, and its size in pixels.
type View struct {
	From, To      time.Time
	Width, Height int // px; zero: the usual ones
}

// Temperatures is all that the chart of a batch shows. Temperatures are °C, times UTC.
type Temperatures struct {
	Batch string
	Scale Scale
	AsOf  time.Time // when it was drawn; zero: the picture does not say
	View  View      // From and To set
	Lines []Line

	Limits []Level
	Sets   []Level // what a place is set to
	Stages []Stage
	Alarms []Alarm
	Typed  []Typed // readings by hand
	Events []Event
}

// A Line is one probe.
type Line struct {
	Probe     string
	Placement process.Placement
	Piece     string
	Interval  time.Duration // between its readings, expected
	From, To  time.Time     // the part the batch has a use for
	Readings  *series.Series
}

// A Level is one temperature over some time; a zero end is open.
type Level struct {
	Name     string
	C        float64
	From, To time.Time
}

// A Stage is one bar; a zero To is open.
type Stage struct {
	Name     string
	From, To time.Time
}

// An Alarm is one triangle.
type Alarm struct {
	Number int64
	At     time.Time
}

// A Typed is a reading somebody took and typed.
type Typed struct {
	At time.Time
	C  float64
}

// An Event is something a person did, as a letter in a box and the word it stands for.
type Event struct {
	At           time.Time
	Letter, Word string
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

// window is the view with whole cells of time, so that no extreme is lost at its edges,
// and with sizes that can be drawn.
func (v View) window() View {
	v.From, v.To = wholeCells(v.From, v.To)
	if v.Width == 0 {
		v.Width = 1000
	}
	v.Width = min(max(v.Width, 300), 2400)
	if v.Height == 0 {
		v.Height = min(max(v.Width*2/5, 320), 520)
	}
	v.Height = min(max(v.Height, 200), 2400)
	return v
}

func wholeCells(from, to time.Time) (a, b time.Time) {
	return from.Truncate(series.Longest), to.Truncate(series.Longest).Add(series.Longest)
}

// SVG draws the temperatures against local time, as one picture that needs nothing from
// outside. A line is never drawn across a gap, and where no probe told anything the
// ground is grey. Of many readings in one column of pixels the first, the lowest, the
// highest and the last stay.
func (t Temperatures) SVG(w io.Writer) error {
	s := t.sheet()
	title := fmt.Sprintf("Temperatures of batch %s in %s from %s to %s", t.Batch, t.Scale.Degree(), t.Scale.stamp(s.View.From), t.Scale.stamp(s.View.To))
	return paint(w, title, s.View.Width, s.View.Height, s.draw)
}

// A sheet is one chart while it is drawn.
type sheet struct {
	Temperatures
	traces []*trace
	legend []string // lines of it
	tags   *tags    // of limits, set points and typed readings
}

func (t Temperatures) sheet() sheet {
	t.View = t.View.window()
	s := sheet{Temperatures: t, traces: t.traces(), tags: new(tags)}
	s.legend = s.wrapped()
	return s
}

// frame lays the picture out: the canvas it is drawn on and the axes.
func (s sheet) frame(c draw.Canvas) (draw.Canvas, *plot.Plot) {
	p := plot.New()
	p.TextHandler = lettering(letter, ink).Handler
	s.axes(p)
	return draw.Crop(c, 2, -s.margin(), 2+vg.Length(len(s.legend))*legendLine, -(s.markRow() + bars + rowGap + s.eventRow())), p
}

// markRow is the room for alarms above the stage bars.
func (s sheet) markRow() vg.Length {
	for _, a := range s.Alarms {
		if s.View.has(a.At) {
			return marks
		}
	}
	return 4
}

func (s sheet) draw(c draw.Canvas) {
	picture, p := s.frame(c)
	p.Add(layer(s.ground), layer(s.levels), layer(s.lines), layer(s.hands))
	p.Draw(picture)
	inside := p.DataCanvas(picture)
	s.names(inside, p)
	s.events(inside, p)
	s.stageBars(inside, p)
	s.alarmMarks(inside, p)
	for i, line := range s.legend {
		c.FillText(lettering(letter, ink), vg.Point{X: c.Min.X + 4, Y: c.Min.Y + 4 + vg.Length(len(s.legend)-1-i)*legendLine}, line)
	}
}

// A layer is one drawing step of the picture.
type layer func(draw.Canvas, *plot.Plot)

// Plot draws the layer.
func (l layer) Plot(c draw.Canvas, p *plot.Plot) { l(c, p) }

func (s sheet) axes(p *plot.Plot) {
	low, high := s.reach()
	timeAxis(p, s.View, s.Scale, s.margin())
	p.Y.Min, p.Y.Max, p.Y.Padding = low, high, 0
	p.Y.Label.Text = s.Scale.Degree()
	letterAxis(&p.Y)
	p.Y.Tick.Marker = plot.ConstantTicks(degreeTicks(p.Y.Min, p.Y.Max, s.View.Height/38))
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
	for _, l := range append(append([]Level(nil), s.Limits...), s.Sets...) {
		if _, _, ok := s.span(l.From, l.To); ok {
			all = append(all, s.Scale.Degrees(l.C))
		}
	}
	s.eachTyped(func(t Typed) { all = append(all, s.Scale.Degrees(t.C)) })
	return around(all, s.Scale)
}

// around is a little more than the numbers reach, or the cold where there are none.
func around(all []float64, scale Scale) (low, high float64) {
	if len(all) == 0 {
		return scale.Degrees(0), scale.Degrees(10)
	}
	low, high = all[0], all[0]
	for _, v := range all {
		low, high = min(low, v), max(high, v)
	}
	air := max((high-low)*0.06, 1)
	return low - air, high + air
}

// span cuts an interval to the view; a zero end is open.
func (s sheet) span(from, to time.Time) (a, b float64, ok bool) { return s.View.span(from, to) }

func (v View) span(from, to time.Time) (a, b float64, ok bool) {
	if from.Before(v.From) {
		from = v.From
	}
	if to.IsZero() || to.After(v.To) {
		to = v.To
	}
	return seconds(from), seconds(to), from.Before(to)
}

func (v View) has(t time.Time) bool { return !t.Before(v.From) && !t.After(v.To) }

func (s sheet) eachTyped(do func(Typed)) {
	for _, t := range s.Typed {
		if s.View.has(t.At) {
			do(t)
		}
	}
}

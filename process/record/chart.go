package record

import (
	"fmt"
	"io"
	"strings"
	"time"

	"flitch/process"
	"flitch/process/chart"
	"flitch/process/series"
)

// A View is the part of the batch a chart shows, and its size in pixels. Zero
// times mean the whole batch, zero sizes a picture for an A4 page.
type View = chart.View

// Scale is how the site wants temperatures and times drawn.
func (s Site) Scale() chart.Scale { return chart.Scale{Zone: s.zone(), Fahrenheit: s.Fahrenheit} }

// Chart draws the temperatures of the batch as one SVG picture; see package chart.
func (r *Record) Chart(w io.Writer, v View) error {
	lines, err := r.lines()
	if err == nil {
		err = r.Temperatures(v, lines).SVG(w)
	}
	if err != nil {
		return fmt.Errorf("record %s: %w", r.Head.Batch, err)
	}
	return nil
}

// Temperatures is what the chart of the batch shows, with the lines given. It needs no
// readings, journal or messages of the record.
func (r *Record) Temperatures(v View, lines []chart.Line) chart.Temperatures {
	t := chart.Temperatures{Batch: r.Head.Batch, Scale: r.Site.Scale(), AsOf: r.asOf(), View: r.window(v), Lines: lines}
	for _, l := range r.Limits {
		if l.Drawn {
			name := l.Name
			if number := r.Site.Temp(l.LineC); !strings.Contains(name, number) {
				name += " " + number
			}
			t.Limits = append(t.Limits, chart.Level{Name: name, C: l.LineC, From: l.From, To: l.To})
		}
	}
	for _, l := range r.Sets {
		t.Sets = append(t.Sets, chart.Level{Name: l.Name + " " + r.Site.Temp(l.C), C: l.C, From: l.From, To: l.To})
	}
	for _, s := range r.Stages {
		t.Stages = append(t.Stages, chart.Stage{Name: string(s.Name), From: s.Entered, To: s.Left})
	}
	for _, a := range r.Alarms {
		t.Alarms = append(t.Alarms, chart.Alarm{Number: a.Number, At: a.RaisedAt})
	}
	for _, e := range r.Entries {
		if e.Struck != nil {
			continue // it stays in the list and counts for nothing
		}
		if e.Kind == process.CommandReading && e.Placement.IsTemperature() {
			t.Typed = append(t.Typed, chart.Typed{At: e.Happened, C: e.Value})
		} else if m, ok := marked[e.Kind]; ok {
			t.Events = append(t.Events, chart.Event{At: e.Happened, Letter: m[0], Word: m[1]})
		}
	}
	for _, d := range r.Doses {
		t.Events = append(t.Events, chart.Event{At: d.At, Letter: "D", Word: "dose put on"})
	}
	return t
}

// marked are the entries that stand in the chart as a letter. Stages have their bars,
// temperatures their rings, and doses come with what was weighed.
var marked = map[process.CommandKind][2]string{
	process.CommandTurned:  {"T", "turned"},
	process.CommandNote:    {"N", "note"},
	process.CommandReading: {"R", "reading of another kind"},
	process.CommandWeighed: {"W", "weighed"},
	process.CommandCounted: {"C", "counted"},
}

func (r *Record) window(v View) View {
	if v.From.Before(r.Head.Started) { // nothing of the batch is before it
		v.From = r.Head.Started
	}
	end := r.Head.Closed
	if end.IsZero() {
		end = r.MadeAt
	}
	if v.To.IsZero() || v.To.After(end) { // nor after it
		v.To = end
	}
	if v.To.Sub(v.From) < time.Minute {
		v.To = v.From.Add(time.Hour)
	}
	return v
}

// lines reads the readings once and keeps what a picture can show of them. Bad readings
// are not drawn; they are counted elsewhere in the record.
func (r *Record) lines() ([]chart.Line, error) {
	var lines []chart.Line
	index := map[string]*series.Series{}
	err := r.Readings.each(func(row Row) error {
		if row.Source == Entered || row.Source == StruckOut || row.Quality == process.Bad || !row.Placement.IsTemperature() {
			return nil
		}
		kept := index[row.Probe]
		if kept == nil {
			kept = new(series.Series)
			index[row.Probe] = kept
			lines = append(lines, chart.Line{Probe: row.Probe, Placement: row.Placement, Piece: row.Piece, Interval: r.interval(row.Probe), Readings: kept})
		}
		kept.Add(row.Measured, row.Value)
		return nil
	})
	return lines, err
}

func (r *Record) interval(probe string) time.Duration {
	for _, d := range r.Data {
		if d.Probe == probe {
			return d.Interval
		}
	}
	return 0
}

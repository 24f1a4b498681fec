package chart

import (
	"encoding/json"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A hair is what the page needs to show exact values under a finger: where the picture's
// axes are, and the readings it drew.
type hair struct {
	Width  int        `json:"width"` // of the picture, px; the following too
	Height int        `json:"height"`
	Left   float64    `json:"left"`
	Right  float64    `json:"right"`
	Top    float64    `json:"top"`
	Bottom float64    `json:"bottom"`
	From   int64      `json:"from"` // ms since 1970, at Left
	To     int64      `json:"to"`
	Column int64      `json:"column"` // width of a column, ms
	Unit   string     `json:"unit"`
	Zones  []zoneAt   `json:"zones"`
	Lines  []hairLine `json:"lines"`
}

// A hairLine is one line: its pieces, each as seconds from From and tenths of a degree,
// taking turns.
type hairLine struct {
	Name   string    `json:"name"`
	Pieces [][]int64 `json:"pieces"`
}

// Hair writes what a cross-hair over the same picture shows, as JSON.
func (t Temperatures) Hair(w io.Writer) error {
	s := t.sheet()
	whole := draw.Canvas{Rectangle: vg.Rectangle{Max: vg.Point{X: vg.Length(s.View.Width), Y: vg.Length(s.View.Height)}}}
	picture, p := s.frame(whole)
	inside := p.DataCanvas(picture)
	h := hair{Width: s.View.Width, Height: s.View.Height, Left: px(inside.Min.X), Right: px(inside.Max.X),
		Top: px(vg.Length(s.View.Height) - inside.Max.Y), Bottom: px(vg.Length(s.View.Height) - inside.Min.Y),
		From: s.View.From.UnixMilli(), To: s.View.To.UnixMilli(), Unit: s.Scale.Degree(), Zones: s.Scale.zones(s.View.From, s.View.To), Lines: []hairLine{}}
	h.Column = int64(float64(h.To-h.From) / (h.Right - h.Left))
	for _, trace := range s.traces {
		h.Lines = append(h.Lines, trace.hair(h.From))
	}
	if err := json.NewEncoder(w).Encode(h); err != nil {
		return fmt.Errorf("write cross-hair of %s: %w", t.Batch, err)
	}
	return nil
}

func (t *trace) hair(from int64) hairLine {
	out := hairLine{Name: t.label, Pieces: make([][]int64, len(t.pieces))}
	for i, piece := range t.pieces {
		flat := make([]int64, 0, 2*len(piece))
		for _, p := range piece {
			flat = append(flat, int64(math.Round(p.x-float64(from)/1000)), int64(math.Round(10*p.y)))
		}
		out.Pieces[i] = flat
	}
	return out
}

func px(l vg.Length) float64 { return math.Round(10*l.Points()) / 10 }

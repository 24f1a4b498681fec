package chart

import (
	"cmp"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/series"
)

// A trace is one line as it is drawn: pieces with nothing between them, because across
// a gap nothing is known.
type trace struct {
	label     string
	probe     string
	placement process.Placement
	pieces    [][]point
}

// A point is a moment, in seconds since 1970, and a value in the unit of the scale.
type point struct{ x, y float64 }

// bridged is the longest silence that any line is drawn across, whatever the probe: the
// same as the clocks bridge. (proposal)
const bridged = 30 * time.Minute

// GapAfter is how long a probe may be silent before its line is broken: three of its
// intervals, at least five minutes. (proposal: the same as the alarm for a silent probe
// in a cook)
func GapAfter(interval time.Duration) time.Duration {
	return min(max(3*interval, 5*time.Minute), bridged)
}

// traces makes the lines that have anything to show, in a fixed order, so that a probe
// keeps its dashes.
func (t Temperatures) traces() []*trace {
	column := t.View.To.Sub(t.View.From) / time.Duration(t.inner())
	var all []*trace
	for _, l := range t.Lines {
		from, to := wholeCells(l.From, l.To)
		if l.To.IsZero() || to.After(t.View.To) {
			to = t.View.To
		}
		if from.Before(t.View.From) {
			from = t.View.From
		}
		if !from.Before(to) {
			continue
		}
		all = append(all, l.traces(from, to, column, t.Scale)...)
	}
	slices.SortFunc(all, drawnBefore)
	return all
}

func (l Line) label() string {
	if l.Piece == "" {
		return string(l.Placement)
	}
	return string(l.Placement) + " " + l.Piece
}

// numbers is about how wide the numbers left of the picture are, px: a little less than
// they are, so that no column is wider than a pixel.
const numbers = 36

// inner is how many columns of pixels there are between the numbers and the names.
func (t Temperatures) inner() int {
	labels := make([]string, len(t.Lines))
	for i, l := range t.Lines {
		labels[i] = l.label()
	}
	return max(t.View.Width-numbers-int(nameRoom(labels, t.View.Width)), 100)
}

// traces is the one trace of the line, or none.
func (l Line) traces(from, to time.Time, column time.Duration, scale Scale) []*trace {
	pieces := l.Readings.Pieces(from, to.Add(-time.Millisecond), column, GapAfter(l.Interval))
	if len(pieces) == 0 {
		return nil
	}
	out := &trace{label: l.label(), probe: l.Probe, placement: l.Placement, pieces: make([][]point, len(pieces))}
	for i, piece := range pieces {
		out.pieces[i] = drawn(piece, scale)
	}
	return []*trace{out}
}

func drawn(piece []series.Point, scale Scale) []point {
	out := make([]point, len(piece))
	for i, p := range piece {
		out[i] = point{float64(p.At) / 1000, scale.Degrees(p.V)}
	}
	return out
}

func drawnBefore(a, b *trace) int {
	order := process.Placements()
	if d := slices.Index(order, a.placement) - slices.Index(order, b.placement); d != 0 {
		return d
	}
	return cmp.Or(cmp.Compare(a.label, b.label), cmp.Compare(a.probe, b.probe))
}

// blind returns the times in which no probe told anything: the complement of all
// pieces, without the silences that are not gaps.
func blind(traces []*trace, v View) [][2]float64 {
	var seen [][2]float64
	for _, t := range traces {
		for _, piece := range t.pieces {
			seen = append(seen, [2]float64{piece[0].x, piece[len(piece)-1].x})
		}
	}
	slices.SortFunc(seen, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var gaps [][2]float64
	at := seconds(v.From)
	for _, s := range append(seen, [2]float64{seconds(v.To), seconds(v.To)}) {
		if s[0]-at > GapAfter(0).Seconds() {
			gaps = append(gaps, [2]float64{at, s[0]})
		}
		at = max(at, s[1])
	}
	return gaps
}

func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

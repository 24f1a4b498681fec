package record

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"time"

	"flitch/process"
)

// A trace is one probe's line in the chart: pieces of line with nothing between
// them, because across a gap nothing is known.
type trace struct {
	label     string
	probe     string
	placement process.Placement
	gap       time.Duration // a longer silence breaks the line
	column    float64       // width of one column of the picture, s
	pieces    [][]point

	open   bool // bucket holds points
	bucket bucket
	last   float64
}

// A point is a moment, in seconds since 1970, and a value in the site's unit.
type point struct{ x, y float64 }

// A bucket keeps of all the points in one column of the picture the four that
// can be seen there: first, lowest, highest, last.
type bucket struct {
	column                    int64
	first, lowest, high, last point
}

func (t *trace) add(p point) {
	if len(t.pieces) == 0 || p.x-t.last > t.gap.Seconds() {
		t.flush()
		t.pieces = append(t.pieces, nil)
	}
	t.last = p.x
	column := int64(math.Floor(p.x / t.column))
	if t.open && column != t.bucket.column {
		t.flush()
	}
	if !t.open {
		t.open, t.bucket = true, bucket{column, p, p, p, p}
		return
	}
	b := &t.bucket
	b.last = p
	if p.y < b.lowest.y {
		b.lowest = p
	}
	if p.y > b.high.y {
		b.high = p
	}
}

func (t *trace) flush() {
	if !t.open {
		return
	}
	t.open = false
	b := t.bucket
	seen := []point{b.first, b.lowest, b.high, b.last}
	sort.SliceStable(seen, func(i, j int) bool { return seen[i].x < seen[j].x })
	n := len(t.pieces) - 1
	t.pieces[n] = append(t.pieces[n], slices.Compact(seen)...)
}

// traces reads the readings once and keeps what the picture can show of them.
// Bad readings are not drawn; they are counted elsewhere in the record.
func (r *Record) traces(v View) ([]*trace, error) {
	byProbe := make(map[string]*trace)
	err := r.Readings.each(func(row Row) error {
		if row.Source == Entered || row.Quality == process.Bad || !row.Placement.IsTemperature() ||
			row.Measured.Before(v.From) || row.Measured.After(v.To) {
			return nil
		}
		t := byProbe[row.Probe]
		if t == nil {
			t = r.newTrace(row, v)
			byProbe[row.Probe] = t
		}
		t.add(point{seconds(row.Measured), r.Site.Degrees(row.Value)})
		return nil
	})
	all := make([]*trace, 0, len(byProbe))
	for _, t := range byProbe {
		t.flush()
		all = append(all, t)
	}
	slices.SortFunc(all, drawnBefore)
	return all, err
}

func (r *Record) newTrace(row Row, v View) *trace {
	t := &trace{label: string(row.Placement), probe: row.Probe, placement: row.Placement, gap: gapAfter(0)}
	if row.Piece != "" {
		t.label += " " + row.Piece
	}
	t.column = v.To.Sub(v.From).Seconds() / float64(v.Width)
	for _, d := range r.Data {
		if d.Probe == row.Probe {
			t.gap = gapAfter(d.Interval)
		}
	}
	return t
}

// drawnBefore puts the lines in a fixed order, so that a probe keeps its colour.
func drawnBefore(a, b *trace) int {
	order := process.Placements()
	if d := slices.Index(order, a.placement) - slices.Index(order, b.placement); d != 0 {
		return d
	}
	return cmp.Or(cmp.Compare(a.label, b.label), cmp.Compare(a.probe, b.probe))
}

// blind returns the times in which no probe told anything: the complement of
// all pieces, without the silences that are not gaps.
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
		if s[0]-at > gapAfter(0).Seconds() {
			gaps = append(gaps, [2]float64{at, s[0]})
		}
		at = max(at, s[1])
	}
	return gaps
}

func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

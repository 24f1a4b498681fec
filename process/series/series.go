package series

import (
	"math"
	"slices"
	"time"
)

// The lengths of a cell. Both are proposals: a week on a wide screen has four minutes
// to a pixel, and the longest cell is shorter than the shortest silence that is a gap
// (5 min), so that no gap can hide inside one.
const (
	shortest = time.Minute
	Longest  = 4 * time.Minute // windows that begin and end on whole ones lose no extreme at their edges
)

// room is how many cells there are before neighbours are joined: two weeks of minutes.
// A cell is 36 bytes, so that is 0.7 MB a probe. (proposal)
const room = 14 * 24 * 60

// A Point is one reading.
type Point struct {
	At int64   // ms since 1970
	V  float64 // in the unit it was put in with, rounded to 24 bits
}

// A Series is the readings of one probe. The zero value is empty and ready. It grows
// with the time it covers, not with the number of readings.
type Series struct {
	joined int // how often the length was doubled
	cells  []cell
}

// A cell is what is kept of one piece of time.
type cell struct {
	number                 int32 // of lengths since 1970
	first, low, high, last kept
}

// kept is a point inside its cell.
type kept struct {
	ms uint32 // from the start of the cell
	v  float32
}

// Length is how long a cell is now.
func (s *Series) Length() time.Duration { return shortest << s.joined }

// Size is how many cells are kept.
func (s *Series) Size() int { return len(s.cells) }

// Add puts in a reading. What is no number, or was measured before 1970, is left out.
// A reading that comes again changes nothing.
func (s *Series) Add(at time.Time, v float64) {
	ms := at.UnixMilli()
	if math.IsNaN(v) || math.IsInf(v, 0) || ms < 0 {
		return
	}
	length := s.Length().Milliseconds()
	k := kept{uint32(ms % length), float32(v)}
	s.put(cell{int32(ms / length), k, k, k, k})
	for len(s.cells) > room && s.Length() < Longest {
		s.join()
	}
}

func (s *Series) put(c cell) {
	n := len(s.cells)
	if n == 0 || s.cells[n-1].number < c.number {
		s.cells = append(s.cells, c)
		return
	}
	i, found := slices.BinarySearchFunc(s.cells, c.number, func(c cell, number int32) int { return int(c.number) - int(number) })
	if found {
		s.cells[i].take(c)
		return
	}
	s.cells = slices.Insert(s.cells, i, c)
}

// take adds what another cell of the same number knows. Of equal values the earlier one
// stays, whichever came first.
func (c *cell) take(o cell) {
	if o.first.ms < c.first.ms {
		c.first = o.first
	}
	if o.last.ms > c.last.ms {
		c.last = o.last
	}
	if o.low.v < c.low.v || o.low.v == c.low.v && o.low.ms < c.low.ms {
		c.low = o.low
	}
	if o.high.v > c.high.v || o.high.v == c.high.v && o.high.ms < c.high.ms {
		c.high = o.high
	}
}

// join makes one cell of every two neighbours.
func (s *Series) join() {
	half := uint32(s.Length().Milliseconds())
	s.joined++
	old := s.cells
	s.cells = s.cells[:0]
	for _, c := range old {
		if c.number%2 == 1 {
			for _, k := range []*kept{&c.first, &c.low, &c.high, &c.last} {
				k.ms += half
			}
		}
		c.number /= 2
		if n := len(s.cells); n > 0 && s.cells[n-1].number == c.number {
			s.cells[n-1].take(c)
			continue
		}
		s.cells = append(s.cells, c)
	}
}

// Each gives the points of every cell that touches the time from one moment to another,
// in order. They may lie up to a length outside.
func (s *Series) Each(from, to time.Time, do func(Point)) {
	length := s.Length().Milliseconds()
	first := from.UnixMilli() / length
	i, _ := slices.BinarySearchFunc(s.cells, first, func(c cell, number int64) int { return int(int64(c.number) - number) })
	for ; i < len(s.cells) && int64(s.cells[i].number)*length <= to.UnixMilli(); i++ {
		s.cells[i].each(int64(s.cells[i].number)*length, do)
	}
}

func (c *cell) each(start int64, do func(Point)) {
	all := [4]kept{c.first, c.low, c.high, c.last}
	if all[1].ms > all[2].ms {
		all[1], all[2] = all[2], all[1]
	}
	for i, k := range all {
		if i == 0 || k.ms > all[i-1].ms {
			do(Point{start + int64(k.ms), float64(k.v)})
		}
	}
}

// Between returns a copy of the cells that touch the time from one moment to another,
// for a reader while others are added.
func (s *Series) Between(from, to time.Time) *Series {
	length := s.Length().Milliseconds()
	find := func(ms int64) int {
		i, _ := slices.BinarySearchFunc(s.cells, ms/length, func(c cell, number int64) int { return int(int64(c.number) - number) })
		return i
	}
	first, end := find(from.UnixMilli()), find(to.UnixMilli()+length)
	return &Series{joined: s.joined, cells: slices.Clone(s.cells[first:max(first, end)])}
}

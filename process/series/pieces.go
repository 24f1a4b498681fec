package series

import "time"

// Pieces is one line of a picture: the points that can be seen when each column is so
// wide, in pieces with nothing between them where the probe was silent for longer than
// a gap. Nothing is known there, so no line may cross it.
//
// Columns are whole cells, at least one, and never wider than asked: an extreme is
// drawn at its own time, within a column of where every reading would have drawn it.
func (s *Series) Pieces(from, to time.Time, column, gap time.Duration) [][]Point {
	length := s.Length()
	p := pieces{column: max(length, column/length*length).Milliseconds(), gap: gap.Milliseconds()}
	s.Each(from, to, p.add)
	p.flush()
	return p.all
}

// pieces puts points that come in order into columns.
type pieces struct {
	column, gap int64 // ms
	all         [][]Point
	open        bool
	bucket      bucket
}

// A bucket keeps of the points of one column the four that can be seen there.
type bucket struct {
	number                 int64
	first, low, high, last Point
}

func (p *pieces) add(q Point) {
	if len(p.all) == 0 || q.At-p.bucket.last.At > p.gap {
		p.flush()
		p.all = append(p.all, nil)
	}
	number := q.At / p.column
	if p.open && number != p.bucket.number {
		p.flush()
	}
	if !p.open {
		p.open, p.bucket = true, bucket{number, q, q, q, q}
		return
	}
	b := &p.bucket
	b.last = q
	if q.V < b.low.V {
		b.low = q
	}
	if q.V > b.high.V {
		b.high = q
	}
}

func (p *pieces) flush() {
	if !p.open {
		return
	}
	p.open = false
	b, n := p.bucket, len(p.all)-1
	if b.low.At > b.high.At {
		b.low, b.high = b.high, b.low
	}
	last := Point{At: -1}
	for _, q := range [4]Point{b.first, b.low, b.high, b.last} {
		if q.At > last.At {
			p.all[n] = append(p.all[n], q)
			last = q
		}
	}
}

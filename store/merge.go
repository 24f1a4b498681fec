package store

import (
	"cmp"
	"container/heap"
	"math"
	"slices"

	"flitch/store/block"
)

// A stream is readings in an order.
type stream struct {
	probe string   // of all of them
	names []string // of each, if it is not one
	rows  []block.Row
	more  func(*stream) error // puts the next ones into names and rows; nil: there are none
	at    key                 // of rows[0]
}

// fill makes sure that there is a row in hand; false: the stream has ended.
func (r *stream) fill(o *order) (bool, error) {
	if len(r.rows) == 0 && r.more != nil {
		if err := r.more(r); err != nil {
			return false, err
		}
	}
	if len(r.rows) == 0 {
		return false, nil
	}
	r.at = o.key(&r.rows[0])
	return true, nil
}

// take takes the row in hand off the stream.
func (r *stream) take() (probe string, row *block.Row) {
	probe, row = r.probe, &r.rows[0]
	if r.names != nil {
		probe, r.names = r.names[0], r.names[1:]
	}
	r.rows = r.rows[1:]
	return probe, row
}

// streams are a heap: the one with the next reading comes first. Of two hundred probes each
// reading is of another one than that before.
type streams []*stream

func (s streams) Len() int           { return len(s) }
func (s streams) Less(i, j int) bool { return s[i].at.compare(s[j].at) < 0 }
func (s streams) Swap(i, j int)      { s[i], s[j] = s[j], s[i] }

// Push implements heap.Interface.
func (s *streams) Push(r any) { *s = append(*s, r.(*stream)) }

// Pop implements heap.Interface.
func (s *streams) Pop() any {
	last := (*s)[len(*s)-1]
	*s = (*s)[:len(*s)-1]
	return last
}

// second is the key of the reading that is next but for those of the first stream.
func (s streams) second() key {
	second := lastKey
	for _, r := range s[min(1, len(s)):min(3, len(s))] {
		if r.at.compare(second) < 0 {
			second = r.at
		}
	}
	return second
}

// A merge walks rows and blocks in one order. A block is unpacked when its turn comes, so that
// few are in memory at a time.
type merge struct {
	snap     *snapshot
	order    order
	from, to key        // rows of blocks from the one up to the other, which is not in it
	waiting  []blockRow // sorted by begin
	sources  []*stream  // beside the blocks
	open     streams    // that have a row in hand
}

// walk calls fn for each reading, in order.
func (m *merge) walk(fn func(probe string, r *block.Row) error) error {
	slices.SortFunc(m.waiting, func(a, b blockRow) int { return cmp.Compare(m.order.begin(&a), m.order.begin(&b)) })
	for _, r := range m.sources {
		if err := m.add(r); err != nil {
			return err
		}
	}
	for {
		until, err := m.next()
		if err != nil || len(m.open) == 0 {
			return err
		}
		first := m.open[0]
		for len(first.rows) > 0 && m.order.key(&first.rows[0]).compare(until) <= 0 {
			if err := fn(first.take()); err != nil {
				return err
			}
		}
		if has, err := first.fill(&m.order); err != nil {
			return err
		} else if has {
			heap.Fix(&m.open, 0)
		} else {
			heap.Pop(&m.open)
		}
	}
}

func (m *merge) add(r *stream) error {
	has, err := r.fill(&m.order)
	if has {
		heap.Push(&m.open, r)
	}
	return err
}

// next makes sure that the first open stream has the next reading, and returns up to which key
// nobody else has one.
func (m *merge) next() (until key, err error) {
	for len(m.waiting) > 0 {
		begin := key{m.order.begin(&m.waiting[0]), math.MinInt64}
		if len(m.open) > 0 && m.open[0].at.compare(begin) < 0 {
			if until = m.open.second(); begin.compare(until) < 0 {
				until = begin
			}
			return until, nil
		}
		if err := m.unpack(m.waiting[0].id); err != nil {
			return until, err
		}
		m.waiting = m.waiting[1:]
	}
	return m.open.second(), nil
}

// unpack makes a stream of a block.
func (m *merge) unpack(id int64) error {
	probe, rows, err := m.order.open(m.snap, id)
	if err != nil {
		return err
	}
	at := func(k key) int {
		i, _ := slices.BinarySearchFunc(rows, k, func(r block.Row, k key) int { return m.order.key(&r).compare(k) })
		return i
	}
	return m.add(&stream{probe: probe, rows: rows[at(m.from):at(m.to)]})
}

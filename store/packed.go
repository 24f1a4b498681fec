package store

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"flitch/process"
)

// A reading comes twice now and then, and the unique key of the rows does not know what is in
// blocks. So the writer keeps in memory from when to when each block measured (24 bytes; a year
// of twelve probes has twenty thousand), and looks into a block before it takes a reading
// of that time. Readings that are newer than all blocks of their probe, nearly all, cost one comparison.

// A packedTime is what one block spans.
type packedTime struct {
	first, last int64 // measured, ms
	id          int64
}

// packedTimes are those of one probe.
type packedTimes struct {
	blocks []packedTime // sorted by first
	latest []int64      // the highest last of blocks[:i+1]
}

func (p *packedTimes) add(t packedTime) {
	at, _ := slices.BinarySearchFunc(p.blocks, t, func(a, b packedTime) int { return cmp.Compare(a.first, b.first) })
	p.blocks = slices.Insert(p.blocks, at, t)
	p.count(at)
}

func (p *packedTimes) drop(id int64) {
	p.blocks = slices.DeleteFunc(p.blocks, func(t packedTime) bool { return t.id == id })
	p.count(0)
}

// count brings latest up to date from one place on.
func (p *packedTimes) count(from int) {
	p.latest = p.latest[:min(from, len(p.latest))]
	for i := len(p.latest); i < len(p.blocks); i++ {
		latest := p.blocks[i].last
		if i > 0 {
			latest = max(latest, p.latest[i-1])
		}
		p.latest = append(p.latest, latest)
	}
}

// newest is the latest time measured that is in a block.
func (p *packedTimes) newest() int64 {
	if p == nil || len(p.latest) == 0 {
		return math.MinInt64
	}
	return p.latest[len(p.latest)-1]
}

// around calls fn for each block that spans the time, until it returns false.
func (p *packedTimes) around(ms int64, fn func(id int64) bool) {
	after, _ := slices.BinarySearchFunc(p.blocks, ms, func(t packedTime, ms int64) int {
		if t.first <= ms {
			return -1
		}
		return 1
	})
	for i := after - 1; i >= 0 && p.latest[i] >= ms; i-- {
		if p.blocks[i].last >= ms && !fn(p.blocks[i].id) {
			return
		}
	}
}

func (db *DB) loadPacked() error {
	db.packed = map[int64]*packedTimes{}
	rows, err := db.writer.Query("SELECT probe, first_measured, last_measured, id FROM blocks ORDER BY probe, first_measured")
	if err != nil {
		return fmt.Errorf("load blocks: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var probe int64
		var t packedTime
		if err := rows.Scan(&probe, &t.first, &t.last, &t.id); err != nil {
			return fmt.Errorf("load blocks: %w", err)
		}
		p := db.packed[probe]
		if p == nil {
			p = &packedTimes{}
			db.packed[probe] = p
		}
		p.blocks = append(p.blocks, t)
	}
	for _, p := range db.packed {
		p.count(0)
	}
	return rows.Err()
}

// lookedInto is how many blocks the writer keeps the times of: a file that is brought again
// goes through each block once.
const lookedInto = 4

// A lookedInBlock is the times measured of a block, sorted.
type lookedInBlock struct {
	id    int64
	times []int64
}

// isPacked reports whether a block holds a reading of the probe of that time.
func (tx *Tx) isPacked(probe, ms int64) (is bool, err error) {
	p := tx.db.packed[probe]
	if p == nil || ms > p.newest() {
		return false, nil
	}
	p.around(ms, func(id int64) bool {
		var times []int64
		if times, err = tx.timesOf(id); err == nil {
			_, is = slices.BinarySearch(times, ms)
		}
		return err == nil && !is
	})
	return is, err
}

func (tx *Tx) timesOf(id int64) ([]int64, error) {
	db := tx.db
	if i := slices.IndexFunc(db.looked, func(l lookedInBlock) bool { return l.id == id }); i >= 0 {
		return db.looked[i].times, nil
	}
	s := &snapshot{db, tx.tx}
	_, rows, err := s.open(id)
	if err != nil {
		return nil, err
	}
	rows = inOrderOfTime(rows)
	times := make([]int64, len(rows))
	for i := range rows {
		times[i] = rows[i].Measured
	}
	db.looked = append(db.looked, lookedInBlock{id, times})
	if len(db.looked) > lookedInto {
		db.looked = slices.Delete(db.looked, 0, 1)
	}
	return times, nil
}

// known are the places of the readings that a block holds already; nil: none.
func (in *intake) known(readings []process.Reading) (places []bool, err error) {
	if len(in.tx.db.packed) == 0 {
		return nil, nil
	}
	for i := range readings {
		probe, err := in.tx.probe(readings[i].Probe)
		if err != nil {
			return nil, err
		}
		is, err := in.tx.isPacked(probe, readings[i].Measured.UnixMilli())
		if err != nil {
			return nil, err
		}
		if is && places == nil {
			places = make([]bool, len(readings))
		}
		if is {
			places[i] = true
		}
	}
	return places, nil
}

// insertBeside inserts those of the readings that no block holds, one at a time, with the
// numbers that they have if the others are rows: what is packed changes no number.
func (in *intake) insertBeside(readings []process.Reading, known []bool) error {
	before, began, stored := in.tx.seq, in.tx.at, in.stored
	at := began
	for i := range readings {
		at = max(at, readings[i].Received.UnixMilli())
		if known[i] {
			continue
		}
		in.tx.seq, in.tx.at = before+int64(i), at
		if err := in.insertRows(0, readings[i:i+1]); err != nil {
			return err
		}
	}
	in.tx.seq, in.tx.at = before+int64(len(readings)), at
	if in.stored == stored { // all of them came before
		in.tx.seq, in.tx.at = before, began
	}
	return nil
}

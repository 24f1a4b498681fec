package store

import (
	"database/sql"
	"fmt"
	"slices"

	"flitch/process"
)

// A reading comes twice now and then, and the unique key of the rows does not know what is in
// blocks. So the writer keeps in memory up to when the blocks of each probe measured, and looks
// into those of its time before it takes a reading that is not newer. Nearly all are newer
// than all blocks of their probe, and cost one comparison.

// loadPacked finds the newest time of each probe that is in a block.
func (db *DB) loadPacked() error {
	db.packed = map[int64]int64{}
	for _, probe := range db.probes {
		var newest sql.NullInt64
		if err := db.writer.QueryRow("SELECT max(last_measured) FROM blocks WHERE probe = ?", probe).Scan(&newest); err != nil {
			return fmt.Errorf("load blocks: %w", err)
		}
		if newest.Valid {
			db.packed[probe] = newest.Int64
		}
	}
	return nil
}

// lookedInto is how many blocks the writer keeps the times of: a file that is brought again
// goes through each block once.
const lookedInto = 4

// A lookedInBlock is the times measured of a block, sorted.
type lookedInBlock struct {
	id    int64
	times []int64
}

// isPacked reports whether one of the blocks holds a reading of that time.
func (tx *Tx) isPacked(blocks []blockRow, ms int64) (bool, error) {
	for _, b := range blocks {
		if ms < b.firstMeasured || ms > b.lastMeasured {
			continue
		}
		times, err := tx.timesOf(b.id)
		if err != nil {
			return false, err
		}
		if _, is := slices.BinarySearch(times, ms); is {
			return true, nil
		}
	}
	return false, nil
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

// known tells of each of the readings whose arguments these are whether a block holds it
// already; nil: none is held by any.
func (in *intake) known(args []any) (held []bool, err error) {
	blocks, err := in.tx.packedAround(args)
	if len(blocks) == 0 || err != nil {
		return nil, err
	}
	for i := 1; i < len(args); i += perReading {
		is, err := in.tx.isPacked(blocks[args[i].(int64)], args[i+1].(int64))
		if err != nil {
			return nil, err
		}
		if is && held == nil {
			held = make([]bool, len(args)/perReading)
		}
		if is {
			held[i/perReading] = true
		}
	}
	return held, nil
}

// A span is a time, ms, both ends in.
type span struct{ first, last int64 }

// packedAround is, by probe, the blocks of the time of those readings that are not newer than all.
func (tx *Tx) packedAround(args []any) (blocks map[int64][]blockRow, err error) {
	var spans map[int64]span
	for i := 1; i < len(args); i += perReading {
		probe, ms := args[i].(int64), args[i+1].(int64)
		if newest, any := tx.db.packed[probe]; !any || ms > newest {
			continue
		}
		if spans == nil {
			spans = map[int64]span{}
		}
		of, found := spans[probe]
		if !found {
			of = span{ms, ms}
		}
		spans[probe] = span{min(of.first, ms), max(of.last, ms)}
	}
	for probe, of := range spans {
		list, err := (&snapshot{tx.db, tx.tx}).blocks("probe = ? AND last_measured >= ? AND first_measured <= ?", probe, of.first, of.last)
		if err != nil {
			return nil, err
		}
		if blocks == nil {
			blocks = map[int64][]blockRow{}
		}
		blocks[probe] = list
	}
	return blocks, nil
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
		args, at, err := in.bind(readings[i : i+1])
		if err == nil {
			err = in.insertBound(0, args, at, 1)
		}
		if err != nil {
			return err
		}
	}
	in.tx.seq, in.tx.at = before+int64(len(readings)), at
	if in.stored == stored { // all of them came before
		in.tx.seq, in.tx.at = before, began
	}
	return nil
}

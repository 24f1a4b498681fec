package store

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"

	"flitch/store/block"
)

// BlockCounts say how many readings are in blocks.
type BlockCounts struct{ Blocks, Readings int64 }

// CheckBlocks unpacks every block and returns an error that names the first that is damaged, or
// is not where it should be: blocks of a probe follow from each other, and its rows from them.
// It takes a second for ten million readings.
func (db *DB) CheckBlocks(ctx context.Context) (c BlockCounts, err error) {
	err = db.lookUntil(ctx, "check blocks", func(s *snapshot) error {
		return s.eachProbe(func(id int64, name string) error {
			blocks, err := s.blocks("probe = ? ORDER BY last_seq", id)
			for i := 0; i < len(blocks) && err == nil; i++ {
				b := &blocks[i]
				if i > 0 && b.firstSeq <= blocks[i-1].lastSeq {
					return b.wrong(name, fmt.Errorf("%w: it does not follow from block %d", block.ErrDamaged, blocks[i-1].id))
				}
				if err = ctx.Err(); err == nil {
					_, _, err = s.open(b.id)
				}
				c.Blocks, c.Readings = c.Blocks+1, c.Readings+b.n
			}
			if err != nil || len(blocks) == 0 {
				return err
			}
			return s.checkCovered(id, name, blocks)
		})
	})
	return c, err
}

// checkCovered holds the rows of a probe that are covered and not taken away yet against its blocks.
func (s *snapshot) checkCovered(probe int64, name string, blocks []blockRow) error {
	at, rows := 0, []block.Row(nil)
	return s.rows("check covered rows", func(r *sql.Rows) error {
		var seq int64
		var scan readingRow
		if err := r.Scan(append([]any{&seq}, scan.dest()...)...); err != nil {
			return fmt.Errorf("store: check covered rows: %w", err)
		}
		for blocks[at].lastSeq < seq {
			at, rows = at+1, nil
		}
		b := &blocks[at]
		if rows == nil {
			var err error
			if _, rows, err = s.open(b.id); err != nil {
				return err
			}
		}
		i, found := slices.BinarySearchFunc(rows, seq, func(r block.Row, seq int64) int { return cmp.Compare(r.Seq, seq) })
		if !found || !block.Same(rows[i], scan.row(seq)) {
			return b.wrong(name, fmt.Errorf("%w: row %d is not as it is in there", block.ErrDamaged, seq))
		}
		return nil
	}, "SELECT r.seq, "+readingColumns+" FROM readings r LEFT JOIN reading_marks m ON m.seq = r.seq WHERE r.probe = ? AND "+covered+" ORDER BY r.seq", probe)
}

// checkSums holds each block against its checksum, which is enough for a copy: it needs a hundredth of
// the time.
func (db *DB) checkSums() error {
	return db.look("check blocks", func(s *snapshot) error {
		if has, err := hasBlocks(background, s.tx); err != nil || !has {
			return err
		}
		blocks, err := s.blocks("1")
		for i := 0; i < len(blocks) && err == nil; i++ {
			var b blockRow
			if b, err = s.read(blocks[i].id); err == nil && blockSum(&b) != b.sum {
				err = b.wrong(fmt.Sprintf("number %d", b.probe), block.ErrDamaged)
			}
		}
		return err
	})
}

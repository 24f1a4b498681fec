package store

import (
	"context"
	"errors"
	"fmt"

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
			last := &blocks[len(blocks)-1]
			left, err := s.rowsUpTo(id, last.lastSeq)
			if left {
				err = errors.Join(err, last.wrong(name, fmt.Errorf("%w: rows of its probe have lower numbers", block.ErrDamaged)))
			}
			return err
		})
	})
	return c, err
}

func (s *snapshot) rowsUpTo(probe, seq int64) (some bool, err error) {
	err = s.tx.QueryRowContext(background, "SELECT EXISTS (SELECT 1 FROM readings WHERE probe = ? AND +seq <= ?)", probe, seq).Scan(&some)
	return some, err
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

package store

import (
	"sync"

	"flitch/store/block"
)

// unpackedRows is how many rows of blocks are kept unpacked: 5 MB. A walk by number comes to a
// block of each probe again with every seal, thirty times in all; twelve probes fit.
const unpackedRows = 1 << 17

// unpackedBlocks are those that a walk by number has opened last. The zero value is ready.
type unpackedBlocks struct {
	mu     sync.Mutex
	blocks map[int64]unpackedBlock
	ids    []int64 // the oldest first
	rows   int
}

type unpackedBlock struct {
	probe string
	rows  []block.Row // nobody changes them
}

// reopen is open for somebody who comes again soon and changes no row.
func (s *snapshot) reopen(id int64) (string, []block.Row, error) {
	u := &s.db.unpacked
	u.mu.Lock()
	b, known := u.blocks[id]
	u.mu.Unlock()
	if known {
		return b.probe, b.rows, nil
	}
	probe, rows, err := s.open(id)
	if err == nil {
		u.keep(id, unpackedBlock{probe, rows})
	}
	return probe, rows, err
}

func (u *unpackedBlocks) keep(id int64, b unpackedBlock) {
	u.mu.Lock()
	defer u.mu.Unlock()
	if _, known := u.blocks[id]; known {
		return
	}
	if u.blocks == nil {
		u.blocks = map[int64]unpackedBlock{}
	}
	u.blocks[id], u.ids, u.rows = b, append(u.ids, id), u.rows+len(b.rows)
	for u.rows > unpackedRows && len(u.ids) > 1 {
		u.rows -= len(u.blocks[u.ids[0]].rows)
		delete(u.blocks, u.ids[0])
		u.ids = u.ids[1:]
	}
}

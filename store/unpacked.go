package store

import (
	"sync"
	"unsafe"

	"flitch/store/block"
)

// unpackedBytes is how much of unpacked blocks is kept: 131,000 plain rows. Who walks by number, a part
// at a time, comes to a block of each probe again with every part, thirty times in all; twelve probes fit.
const unpackedBytes = 7 << 20

// unpackedBlocks are those that a walk by number has opened last. The zero value is ready.
type unpackedBlocks struct {
	mu     sync.Mutex
	blocks map[int64]unpackedBlock
	ids    []int64 // the oldest first
	bytes  int
}

type unpackedBlock struct {
	probe string
	rows  []block.Row // nobody changes them
	bytes int
}

// bytesOf is about what rows take in memory.
func bytesOf(rows []block.Row) int {
	n := len(rows) * int(unsafe.Sizeof(block.Row{}))
	for i := range rows {
		if m := rows[i].Mark; m != nil {
			n += int(unsafe.Sizeof(*m)) + len(m.Reason) + len(m.Raw)
		}
	}
	return n
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
		u.keep(id, unpackedBlock{probe, rows, bytesOf(rows)})
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
	u.blocks[id], u.ids, u.bytes = b, append(u.ids, id), u.bytes+b.bytes
	for u.bytes > unpackedBytes && len(u.ids) > 1 {
		u.bytes -= u.blocks[u.ids[0]].bytes
		delete(u.blocks, u.ids[0])
		u.ids = u.ids[1:]
	}
}

// forget gives the memory back.
func (u *unpackedBlocks) forget() {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.blocks, u.ids, u.bytes = nil, nil, 0
}

package block

import (
	"encoding/binary"
	"slices"
)

// Sums and differences of 64 bits wrap around on both ways alike: no time is too far.

func numbersOf(rows []Row) []byte {
	b := binary.AppendVarint(nil, rows[0].Seq)
	for i := 1; i < len(rows); i++ {
		b = binary.AppendUvarint(b, uint64(rows[i].Seq-rows[i-1].Seq-1))
	}
	return b
}

func readNumbers(c *column, rows []Row) {
	rows[0].Seq = c.varint()
	for i := 1; i < len(rows); i++ {
		rows[i].Seq = rows[i-1].Seq + 1 + int64(c.uvarint())
		c.bad = c.bad || rows[i].Seq <= rows[i-1].Seq
	}
}

func measuredOf(rows []Row) []byte {
	steps := make([]int64, 0, len(rows))
	for i := 1; i < len(rows); i++ {
		steps = append(steps, rows[i].Measured-rows[i-1].Measured)
	}
	return appendBesideMedian(binary.AppendVarint(nil, rows[0].Measured), steps)
}

func readMeasured(c *column, rows []Row) {
	rows[0].Measured = c.varint()
	usual := c.varint()
	for i := 1; i < len(rows); i++ {
		rows[i].Measured = rows[i-1].Measured + usual + c.varint()
	}
}

// How a time received is kept, whichever is shorter: by how long after it was measured it
// came, or, for what was read out of a logger and came all at once, by how long after the row before.
const (
	byDelay = 0
	byStep  = 1
)

func receivedOf(rows []Row) []byte {
	delays, steps := make([]int64, len(rows)), make([]int64, len(rows))
	last := rows[0].Measured
	for i := range rows {
		delays[i], steps[i] = rows[i].Received-rows[i].Measured, rows[i].Received-last
		last = rows[i].Received
	}
	delayed, stepped := appendBesideMedian([]byte{byDelay}, delays), appendBesideMedian([]byte{byStep}, steps)
	if len(stepped) < len(delayed) {
		return stepped
	}
	return delayed
}

func readReceived(c *column, rows []Row) {
	kind, usual := c.uvarint(), c.varint()
	c.bad = c.bad || kind > byStep
	last := rows[0].Measured
	for i := range rows {
		if kind == byDelay {
			last = rows[i].Measured
		}
		last += usual + c.varint()
		rows[i].Received = last
	}
}

// appendBesideMedian appends the median and by how much each differs from it.
func appendBesideMedian(b []byte, all []int64) []byte {
	usual := int64(0)
	if len(all) > 0 {
		sorted := slices.Sorted(slices.Values(all))
		usual = sorted[len(sorted)/2]
	}
	b = binary.AppendVarint(b, usual)
	for _, v := range all {
		b = binary.AppendUvarint(b, fold(v-usual))
	}
	return b
}

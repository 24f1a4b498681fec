package ingest

import "time"

// A clock is behind when every reading comes late by the same for settled: a board set
// to another zone, or a clock that runs slow. What is late is taken at its own time and
// rings nobody, so that a fridge could warm for hours behind such a clock. A queue that is
// handed over gets less late with each reading; give is by how much the lag may change
// before it is another. Proposals.
const (
	settled = 5 * time.Minute
	give    = 2 * time.Second
	drift   = 10 // and a tenth of the time it is watched
)

// A lag is by how much readings of one probe come late, and since when by that much,
// milliseconds. The zero lag is none.
type lag struct {
	by    int64
	since int64
}

// isBehind takes a reading that is not marked as stored, in the order of arrival, and
// reports whether the clock that dated it is behind. patience is the age up to which a
// reading is not late.
func (l *lag) isBehind(arrival, device, patience int64) bool {
	by := arrival - device
	if by <= patience {
		*l = lag{}
		return false
	}
	watched := arrival - l.since
	if l.by == 0 || watched < 0 || max(by-l.by, l.by-by) > give.Milliseconds()+watched/drift {
		*l = lag{by: by, since: arrival}
		return false
	}
	return watched >= settled.Milliseconds()
}

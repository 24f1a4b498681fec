package process

import (
	"slices"
	"strings"
	"time"
)

// A Deviation is a limit that was not kept: of a clock, or of a dose.
type Deviation struct {
	Name   string    // of the clock, or "dose of A"
	Pieces []string  // it is about; empty: all of the batch
	From   time.Time //
	To     time.Time // zero: it is not over
	Sum    float64   // in the unit of the clock; of a dose ppm of ingoing nitrite
	Limit  float64   // 0 of a dose
	dose   bool
	rises  bool // more of it is worse
}

// Deviations are the limits that are not kept as of now, in the order of the record.
func (b *Batch) Deviations(now time.Time) (out []Deviation) {
	for _, c := range b.Clocks(now) {
		if c.Verdict == NotMet && c.Name != ClockTurn && c.Name != ClockKeep {
			out = append(out, Deviation{Name: string(c.Name), From: c.From, To: c.To, Sum: c.Sum, Limit: c.Limit, rises: !c.AtLeast})
		}
	}
	for _, e := range b.DosesInForce() {
		if e.fails() {
			out = append(out, Deviation{Name: "dose of " + strings.Join(e.Pieces, "+"), Pieces: e.Pieces, From: e.At, Sum: e.PPM, dose: true})
		}
	}
	return out
}

// touches reports whether the deviation is about a piece.
func (d Deviation) touches(piece string) bool {
	return len(d.Pieces) == 0 || slices.Contains(d.Pieces, piece)
}

// A Covered is a deviation that a disposition decided on, and how far it had come then.
type Covered struct {
	Name string  `json:"name"`
	Sum  float64 `json:"sum"`
}

// grownBy is by how much of its limit a deviation may grow before what was decided on it
// has to be decided again (proposal).
const grownBy = 0.1

// decided reports whether what was decided on the deviation as it stood still holds.
func (d Deviation) decided(c Covered) bool {
	switch {
	case d.Name != c.Name:
		return false
	case d.dose:
		return !(d.Sum > c.Sum) && !(d.Sum < c.Sum)
	}
	return !d.rises || d.Sum <= c.Sum+grownBy*d.Limit
}

package process

import (
	"strings"
	"time"
)

// Imported begins the Reason of a reading that a person read out of a stand-alone
// logger's file. Its Received is when it was imported.
const Imported = "imported"

// IsImported reports whether a person brought the reading in a file. Such a reading is
// late whenever it comes: it counts for the clocks and the record, and no alarm looks at
// it, neither to raise nor to clear. The probe was not heard by it.
func (r Reading) IsImported() bool { return r.Quality != Good && strings.HasPrefix(r.Reason, Imported) }

// inTime is an imported reading as it would have been had the probe sent it.
func (r Reading) inTime() Reading {
	r.Received = r.Measured
	r.Reason = strings.TrimPrefix(strings.TrimPrefix(r.Reason, Imported), "; ")
	if r.Quality == Suspect && r.Reason == "" {
		r.Quality = Good
	}
	return r
}

// Wants reports whether what was measured then, by that probe, can be part of the batch.
// An hour before the start a line may begin that leads into it.
func (b *Batch) Wants(probe string, measured time.Time) bool {
	return b.Open() && b.Uses(probe) && !measured.Before(b.Started.Add(-time.Hour))
}

// takeImported leaves the sums to the recount.
func (b *Batch) takeImported(r Reading) {
	if b.Wants(r.Probe, r.Measured) {
		b.Imported, b.NeedsRecount = true, true
	}
}

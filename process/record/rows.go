package record

import (
	"time"

	"flitch/process"
)

// Where a row comes from. They are never mixed.
const (
	Measured = "measured" // by a probe
	Imported = "imported" // by a stand-alone logger, whose file a person brought
	Entered  = "entered"  // by a person

	StruckOut = "struck out" // entered by a person and struck out since: it counts for nothing
)

// A Row is one reading of the batch.
type Row struct {
	Measured  time.Time
	Received  time.Time // when it reached the daemon, or was typed
	Batch     string
	Piece     string // which slab, for cores
	Placement process.Placement
	Probe     string
	Value     float64
	Corrected bool    // by a check of the probe: Value is Sent with the correction
	Sent      float64 // what is stored, as the probe sent it; only of a corrected row
	Unit      string  // empty: UnitOf the placement
	Quality   process.Quality
	Reason    string // why the quality is not good
	Source    string // Measured, Imported, Entered or StruckOut
}

// UnitName is the unit of the value.
func (r Row) UnitName() string {
	if r.Unit != "" {
		return r.Unit
	}
	return UnitOf(r.Placement)
}

// SourceName is where the row comes from.
func (r Row) SourceName() string {
	if r.Source == "" {
		return Measured
	}
	return r.Source
}

// Rows hands every row to yield, in a fixed order, and stops at the first error.
type Rows func(yield func(Row) error) error

// each is Rows for a record that may have none.
func (rows Rows) each(yield func(Row) error) error {
	if rows == nil {
		return nil
	}
	return rows(yield)
}

// GapAfter is how long a probe may be silent before its line is broken: three of
// its intervals, at least five minutes. (proposal: the same as the alarm for a
// silent probe in a cook)
func GapAfter(interval time.Duration) time.Duration {
	return max(3*interval, 5*time.Minute)
}

// EachReading calls do for every reading, in the order of the CSV.
func (r *Record) EachReading(do func(Row) error) error { return r.Readings.each(do) }

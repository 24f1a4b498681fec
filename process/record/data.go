package record

import (
	"time"

	"flitch/process"
)

// LateAfter is how long a reading may be under way before it counts as late.
// (proposal)
const LateAfter = 5 * time.Minute

// ProbeData says how much of what one probe should have told was told.
type ProbeData struct {
	process.PlacedProbe
	From       time.Time     `json:"from"` // the time it was wanted
	To         time.Time     `json:"to"`
	Count      int           `json:"count"`
	Good       int           `json:"good"`
	Suspect    int           `json:"suspect"`
	Bad        int           `json:"bad"`
	Late       int           `json:"late"`           // reached us more than 5 min after it was measured
	Duplicates int           `json:"duplicates"`     // came again and were dropped; counted by the store
	Coverage   float64       `json:"coverage"`       // share of the time without a gap, 0 to 1
	LongestGap time.Duration `json:"longest_gap_ns"` // zero: none
	GapFrom    time.Time     `json:"gap_from,omitzero"`

	LastGood *process.ProbeCheck `json:"last_good_check,omitempty"` // at or before the end; nil: none is known
	Failed   *process.ProbeCheck `json:"failed_check,omitempty"`    // puts what it read in doubt; nil: none does

	LeftOut []process.Flagged `json:"left_out,omitempty"` // readings that did not count, or are in doubt, by reason

	last time.Time
	gaps time.Duration
}

// Percent returns the coverage in percent, rounded down: 100 means no gap.
func (d ProbeData) Percent() string {
	return fixed(float64(int(d.Coverage*1000))/10, 1)
}

// Counted fills in the counts, the coverage and the longest gap of each probe
// from the rows. A gap is a silence of more than three intervals, at least five
// minutes; a bad reading does not end one. Duplicates are left as given.
func Counted(rows Rows, probes []ProbeData) ([]ProbeData, error) {
	t := newTally(probes)
	err := rows.each(func(r Row) error { t.count(r); return nil })
	return t.counted(), err
}

// A tally counts while rows go by.
type tally struct {
	probes []ProbeData
	index  map[string]*ProbeData
}

func newTally(probes []ProbeData) *tally {
	t := &tally{probes: append([]ProbeData(nil), probes...), index: make(map[string]*ProbeData, len(probes))}
	for i := range t.probes {
		d := &t.probes[i]
		d.Count, d.Good, d.Suspect, d.Bad, d.Late = 0, 0, 0, 0, 0
		d.LongestGap, d.GapFrom, d.gaps, d.last = 0, time.Time{}, 0, d.From
		t.index[d.Probe] = d
	}
	return t
}

func (t *tally) count(r Row) {
	if d := t.index[r.Probe]; d != nil && r.Source != Entered && r.Source != StruckOut {
		d.count(r)
	}
}

func (t *tally) counted() []ProbeData {
	for i := range t.probes {
		t.probes[i].finish()
	}
	return t.probes
}

func (d *ProbeData) count(r Row) {
	d.Count++
	if r.Received.Sub(r.Measured) > LateAfter {
		d.Late++
	}
	switch r.Quality {
	case process.Good:
		d.Good++
	case process.Suspect:
		d.Suspect++
	default:
		d.Bad++
		return
	}
	if r.Measured.After(d.From) && !r.Measured.After(d.To) {
		d.heard(r.Measured)
	}
}

func (d *ProbeData) heard(at time.Time) {
	silence := at.Sub(d.last)
	if silence > GapAfter(d.Interval) {
		d.gaps += silence
		if silence > d.LongestGap {
			d.LongestGap, d.GapFrom = silence, d.last
		}
	}
	d.last = at
}

func (d *ProbeData) finish() {
	whole := d.To.Sub(d.From)
	if whole <= 0 {
		return
	}
	d.heard(d.To)
	d.Coverage = 1 - float64(d.gaps)/float64(whole)
}

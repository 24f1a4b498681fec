package lethality

// A Dwell is the time spent at or above one temperature: the check against a row
// of a published table. Its zero value is empty.
//
// The federal guideline counts all time at or above the row's temperature when it
// checks a deviation (FSIS-GD-2021-14 p. 68, seen); the longest unbroken time is
// kept to be shown beside it.
type Dwell struct {
	TotalMin   float64 `json:"total_min,omitzero"`
	LongestMin float64 `json:"longest_min,omitzero"` // longest unbroken part of it
	RunMin     float64 `json:"run_min,omitzero"`     // the part still going on at the last segment
}

// Add adds a straight line from v1 to v2 (°C) over dtMin minutes against the
// row's temperature. Take the uncertainty of the probe off both values before. A
// segment longer than gapMaxMin minutes, or with an end that is no finite number,
// is a gap: it earns nothing and breaks the run.
func (d *Dwell) Add(rowC, v1, v2, dtMin, gapMaxMin float64) {
	if !(dtMin > 0) {
		return
	}
	if !(dtMin <= gapMaxMin) || !usable(v1, v2, dtMin) {
		d.RunMin = 0
		return
	}
	above := TimeAbove(v1, v2, dtMin, rowC)
	d.TotalMin += above
	if v1 < rowC {
		d.RunMin = 0
	}
	d.RunMin += above
	d.LongestMin = max(d.LongestMin, d.RunMin)
	if v2 < rowC {
		d.RunMin = 0
	}
}

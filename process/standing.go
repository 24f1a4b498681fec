package process

import "time"

const (
	coarseStepK  = 0.4 // a probe whose smallest change is this reads the same for long (proposal)
	coarseFactor = 4   // times as long (proposal)
	livelyPart   = 1.0 / 16
)

// A Standing is how long a probe has read the same to the last digit, and how its
// readings changed before.
type Standing struct {
	Since  time.Time `json:"since,omitzero"`
	N      int64     `json:"n,omitempty"`      // readings, the first too
	Step   float64   `json:"step,omitempty"`   // smallest change seen
	Lively float64   `json:"lively,omitempty"` // part of the readings that were another than the one before, of about the last sixteen
	Was    float64   `json:"was,omitempty"`    // Lively when the run began
}

// follow takes the next reading. A silence begins a run anew: nobody knows what a
// silent thermometer would have read.
func (r *Standing) follow(before, s Sample, silent time.Duration) {
	step := max(s.Value-before.Value, before.Value-s.Value)
	first := before.At.IsZero()
	if !first && step != 0 && (r.Step == 0 || step < r.Step) {
		r.Step = step
	}
	if !first && step == 0 && s.At.Sub(before.At) <= silent {
		r.N++
		r.Lively -= r.Lively * livelyPart
		return
	}
	r.Since, r.N, r.Was = s.At, 1, r.Lively
	if !first {
		r.Lively += (1 - r.Lively) * livelyPart
	}
}

// hours is for how long the probe has read the same; for a coarse probe a part of it.
func (r *Standing) hours(now time.Time) float64 {
	hours := now.Sub(r.Since).Hours()
	if r.Step == 0 || r.Step >= coarseStepK {
		return hours / coarseFactor
	}
	return hours
}

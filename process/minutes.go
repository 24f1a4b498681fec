package process

import (
	"slices"
	"time"
)

// A Bucket holds the samples of one minute, to make one number of them: their median.
type Bucket struct {
	Minute time.Time `json:"minute,omitzero"` // its start; zero: empty
	Values []float64 `json:"values,omitempty"`
}

// bucketSize is how many samples of a minute are kept; the rest are like them.
const bucketSize = 64

func (u *Bucket) empty() bool { return u.Minute.IsZero() }

// add puts a sample in. The bucket must be empty or of the same minute.
func (u *Bucket) add(s Sample) {
	u.Minute = s.At.Truncate(time.Minute)
	if len(u.Values) < bucketSize {
		u.Values = append(u.Values, s.Value)
	}
}

// over reports whether the minute is over at a time.
func (u *Bucket) over(at time.Time) bool { return !u.empty() && at.Sub(u.Minute) >= time.Minute }

// take returns the median and empties the bucket.
func (u *Bucket) take() float64 {
	slices.Sort(u.Values)
	n := len(u.Values)
	median := (u.Values[n/2] + u.Values[(n-1)/2]) / 2
	u.Minute, u.Values = time.Time{}, u.Values[:0]
	return median
}

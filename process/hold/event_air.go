package hold

import "slices"

// An AirAt is one sample of the air: minutes from any start, and °C.
type AirAt struct{ Min, C float64 }

// RecentAir holds the newest samples of the air in order of time: two hours of
// minutes.
type RecentAir struct {
	At [128]AirAt
	N  int
}

func (r *RecentAir) push(s AirAt) {
	if r.N == len(r.At) {
		copy(r.At[:], r.At[1:])
		r.N--
	}
	r.At[r.N] = s
	r.N++
}

func (r *RecentAir) last() AirAt { return r.At[r.N-1] }

// since is the samples from a minute on; the newest at least.
func (r *RecentAir) since(from float64) []AirAt {
	i := r.N - 1
	for i > 0 && r.At[i-1].Min >= from {
		i--
	}
	return r.At[i:r.N]
}

func (r *RecentAir) median(from float64) float64 {
	var values [128]float64
	n := 0
	for _, s := range r.since(from) {
		values[n] = s.C
		n++
	}
	slices.Sort(values[:n])
	return (values[n/2] + values[(n-1)/2]) / 2
}

// slope is the least-squares slope of the samples from a minute on, K/h. ok is
// false with fewer than four.
func (r *RecentAir) slope(from float64) (perHour float64, ok bool) {
	s := r.since(from)
	if len(s) < 4 {
		return 0, false
	}
	var sx, sy, sxx, sxy float64
	for _, a := range s {
		x := a.Min - from
		sx, sy, sxx, sxy = sx+x, sy+a.C, sxx+x*x, sxy+x*a.C
	}
	n := float64(len(s))
	return 60 * (n*sxy - sx*sy) / (n*sxx - sx*sx), true
}

// fell reports whether any sample from a minute on is more than k under one before
// it there.
func (r *RecentAir) fell(from, k float64) bool {
	s := r.since(from)
	top := s[0].C
	for _, a := range s {
		top = max(top, a.C)
		if a.C < top-k {
			return true
		}
	}
	return false
}

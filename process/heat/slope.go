package heat

import (
	"math"
	"slices"
)

// normalMAD makes a standard deviation of a median absolute deviation, for normal
// noise (textbook).
const normalMAD = 1.4826

// A Slope is how fast a temperature changes.
type Slope struct {
	PerHour float64 // K/h
	SigmaC  float64 // noise of one reading about the line, K
	Se      float64 // standard error of PerHour, K/h, for independent noise
}

// TheilSen returns the median of the slopes between all pairs of samples. Up to
// 29 % of them may be wrong without moving it far. Sigma is 1.4826 times the
// median absolute deviation of the residuals, and the standard error that of a
// least-squares slope with this sigma. Noise of neighbouring readings is alike in
// practice: a detector should double the standard error and take a sigma of at
// least the resolution. ok is false with fewer than three samples, samples that are
// no finite numbers, or samples all at one time.
//
// The work grows with the square of the number of samples: give it a window.
func TheilSen(samples []Sample) (Slope, bool) {
	pairs := len(samples) * (len(samples) - 1) / 2
	return theilSen(samples, make([]float64, max(pairs, len(samples))))
}

// theilSen is TheilSen in room of the caller's, for as many numbers as there are
// pairs of samples and at least one for each sample.
func theilSen(samples []Sample, room []float64) (Slope, bool) {
	if len(samples) < 3 || !allFinite(samples) {
		return Slope{}, false
	}
	slopes := room[:0]
	for i, a := range samples {
		for _, b := range samples[i+1:] {
			if dt := b.Min - a.Min; dt != 0 {
				slopes = append(slopes, (b.C-a.C)/dt)
			}
		}
	}
	if len(slopes) == 0 {
		return Slope{}, false
	}
	perMin := median(slopes)
	sigma := robustSigma(samples, perMin, room[:len(samples)])
	return Slope{PerHour: 60 * perMin, SigmaC: sigma, Se: SlopeSe(sigma, samples)}, true
}

func robustSigma(samples []Sample, perMin float64, residuals []float64) float64 {
	for i, s := range samples {
		residuals[i] = s.C - perMin*s.Min
	}
	middle := median(residuals)
	for i, r := range residuals {
		residuals[i] = math.Abs(r - middle)
	}
	return normalMAD * median(residuals)
}

// SlopeSe returns the standard error, K/h, of a least-squares slope over the times
// of the samples with independent noise of sigma K. For n samples a minute apart
// it is 60 sigma sqrt(12/(n (n²-1))).
func SlopeSe(sigma float64, samples []Sample) float64 {
	return 60 * sigma / math.Sqrt(scatter(samples))
}

// LeastSquares returns the least-squares slope, with sigma and standard error from
// its own residuals. One wrong reading moves it; it is here for clean data and for
// comparison. ok is false as for TheilSen.
func LeastSquares(samples []Sample) (Slope, bool) {
	n := float64(len(samples))
	if n < 3 || !allFinite(samples) || scatter(samples) == 0 {
		return Slope{}, false
	}
	meanMin, meanC := means(samples)
	product := 0.0
	for _, s := range samples {
		product += (s.Min - meanMin) * (s.C - meanC)
	}
	perMin, squares := product/scatter(samples), 0.0
	for _, s := range samples {
		r := s.C - meanC - perMin*(s.Min-meanMin)
		squares += r * r
	}
	sigma := math.Sqrt(squares / (n - 2))
	return Slope{PerHour: 60 * perMin, SigmaC: sigma, Se: SlopeSe(sigma, samples)}, true
}

func means(samples []Sample) (minutes, celsius float64) {
	for _, s := range samples {
		minutes += s.Min
		celsius += s.C
	}
	n := float64(len(samples))
	return minutes / n, celsius / n
}

// scatter is the sum of squares of the times about their mean, min².
func scatter(samples []Sample) float64 {
	mean, _ := means(samples)
	sum := 0.0
	for _, s := range samples {
		sum += (s.Min - mean) * (s.Min - mean)
	}
	return sum
}

// median puts the values it is given in some order and returns the middle one, or
// the mean of the middle two. It must not be empty.
func median(values []float64) float64 {
	half := len(values) / 2
	upper := nth(values, half)
	if len(values)%2 == 1 {
		return upper
	}
	return (slices.Max(values[:half]) + upper) / 2
}

// nth returns the value that would stand at k if they were sorted, with the smaller
// ones before it (Hoare's selection): a fifth of the time of sorting all slopes.
func nth(values []float64, k int) float64 {
	low, high := 0, len(values)-1
	for low < high {
		pivot := values[(low+high)/2]
		i, j := low, high
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for values[j] > pivot {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return values[k]
		}
	}
	return values[k]
}

func allFinite(samples []Sample) bool {
	for _, s := range samples {
		if math.IsNaN(s.Min) || math.IsInf(s.Min, 0) || math.IsNaN(s.C) || math.IsInf(s.C, 0) {
			return false
		}
	}
	return true
}

package cure

import (
	"fmt"
	"math"
)

// Drying is a piece that loses water to the air: the loss, as a part of the weight
// at the start of drying, is Limit times the mean uptake of a slab with constant
// surface, on transformed time D t over path squared.
type Drying struct {
	PathM float64 // see Path, m
	Limit float64 // loss at the very end, a part: see LeanLimit, BellyLimit
	D     float64 // effective diffusivity of water, m²/s
}

const (
	LeanLimit  = 0.50 // loss of lean at the very end (assumption)
	BellyLimit = 0.35 // loss of belly at the very end (assumption)

	// DryingD is where to start before a weighing, m²/s: dry-cured ham at 75 % RH
	// 2.4e-11 to 6.6e-11, at 80 % RH 5e-12 to 2.8e-11 (seen, a project page); one
	// other seen value is 2.5e-10. A decade of spread: never promise a date on it.
	DryingD = 5e-11

	// Factors on the fitted diffusivity, each way, of the interval of a forecast:
	// after one weighing, and beyond the span of the fits after more (proposals).
	spreadOne  = 2.0
	spreadMore = 1.25

	// hardened is how far the last fit may fall under the first before the surface
	// is thought to have closed (case hardening; proposal).
	hardened = 0.8
)

// Loss returns the loss, a part of the starting weight, after the given days.
func (d Drying) Loss(days float64) float64 {
	return d.Limit * Cut{Slab, math.Inf(1)}.Mean(d.tau(days))
}

func (d Drying) tau(days float64) float64 {
	if !(days > 0) {
		return 0
	}
	return d.D * days * hoursPerDay * secondsPerHour / (d.PathM * d.PathM)
}

// DaysTo returns the days from the start until the loss, infinite when it is not
// below Limit or D is not positive.
func (d Drying) DaysTo(loss float64) float64 {
	if !(loss > 0) {
		return 0
	}
	if !(d.D > 0) {
		return math.Inf(1)
	}
	return DryingTau(loss/d.Limit) * d.PathM * d.PathM / (d.D * hoursPerDay * secondsPerHour)
}

// DryingTau returns the transformed time at which the mean of a slab with constant
// surface is the fraction: 0 for one not above 0, infinite for one not below 1.
func DryingTau(fraction float64) float64 {
	if !(fraction > 0) {
		return 0
	}
	if fraction >= 1 {
		return math.Inf(1)
	}
	cut, high := Cut{Slab, math.Inf(1)}, 1.0
	for cut.Mean(high) < fraction && high < 64 {
		high *= 2
	}
	return bisect(func(tau float64) float64 { return cut.Mean(tau) - fraction }, 0, high)
}

// A Weighing is a loss seen on a day of drying.
type Weighing struct {
	Days float64 // from the start of drying
	Loss float64 // part of the weight at the start
}

// A Forecast is when a drying piece will have lost a part of its weight.
type Forecast struct {
	Days, Earliest, Latest float64   // from the start of drying
	Fits                   []float64 // D from each weighing, m²/s
	Promised               bool      // at least two weighings stand behind it
	Hardening              bool      // the fitted D falls: the surface may have closed
}

// Forecast fits D at each weighing, in the order of days, and carries the last fit
// on to the target loss. d.D is not used. The interval spans all fits.
func (d Drying) Forecast(weighings []Weighing, target float64) (Forecast, error) {
	if err := d.check(target); err != nil {
		return Forecast{}, err
	}
	var f Forecast
	for i, w := range weighings {
		if !(w.Days > 0) || !finite(w.Days) || i > 0 && !(w.Days > weighings[i-1].Days) {
			return f, fmt.Errorf("drying: weighing %d is on day %v, want days above 0 that rise", i+1, w.Days)
		}
		if !(w.Loss > 0) || w.Loss >= d.Limit {
			return f, fmt.Errorf("drying: weighing %d has lost %.4g %%, want more than 0 and less than the %.4g %% of the very end", i+1, 100*w.Loss, 100*d.Limit)
		}
		f.Fits = append(f.Fits, DryingTau(w.Loss/d.Limit)*d.PathM*d.PathM/(w.Days*hoursPerDay*secondsPerHour))
	}
	if len(f.Fits) == 0 {
		return f, fmt.Errorf("drying: no weighing: weigh the piece, wait some days and weigh it again")
	}
	f.extrapolate(d, target)
	return f, nil
}

func (f *Forecast) extrapolate(d Drying, target float64) {
	last, low, high := f.Fits[len(f.Fits)-1], math.Inf(1), 0.0
	for _, fit := range f.Fits {
		low, high = min(low, fit), max(high, fit)
	}
	f.Promised = len(f.Fits) > 1
	f.Hardening = last < hardened*f.Fits[0]
	spread := spreadOne
	if f.Promised {
		spread = spreadMore
	}
	at := func(fit float64) float64 { return Drying{PathM: d.PathM, Limit: d.Limit, D: fit}.DaysTo(target) }
	f.Days, f.Earliest, f.Latest = at(last), at(high*spread), at(low/spread)
}

func (d Drying) check(target float64) error {
	if err := positive("path", d.PathM); err != nil {
		return err
	}
	if !(d.Limit > 0) || d.Limit >= 1 {
		return fmt.Errorf("drying: loss at the very end is %v, want a part between 0 and 1", d.Limit)
	}
	if !(target > 0) || target >= d.Limit {
		return fmt.Errorf("drying: target is %.4g %%, want more than 0 and less than the %.4g %% of the very end", 100*target, 100*d.Limit)
	}
	return nil
}

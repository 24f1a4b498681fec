package cure

// DefaultFraction is the centre fraction taken as through, 0.90; 0.80 to 0.95 are
// defended elsewhere (assumption of this project).
const DefaultFraction = 0.90

// A Finish is when the centre will reach a fraction if the temperature stays: the
// hours left at ReferenceD, and those left if the diffusivity is SpreadD times
// more or less over the whole history, an 80 % interval.
type Finish struct {
	Hours, Earliest, Latest float64
}

// Finish returns the time left at tempC (°C) until the centre reaches the
// fraction, for a piece with path pathM (metres) that has transformed time tau
// behind it. All are infinite when it is frozen.
func (c Cut) Finish(fraction, tau, pathM, tempC float64) Finish {
	whole := c.TauFor(fraction)
	left := func(factor float64) float64 {
		seconds := (whole - factor*tau) * pathM * pathM / (factor * Diffusivity(tempC))
		return max(0, seconds/secondsPerHour)
	}
	return Finish{Hours: left(1), Earliest: left(SpreadD), Latest: left(1 / SpreadD)}
}

// Reach says how sure it is, by the model alone, that the centre has a fraction.
type Reach string

// The three answers.
const (
	NotYet Reach = "not yet" // not at ReferenceD
	Likely Reach = "likely"  // at ReferenceD
	Sure   Reach = "sure"    // even if the diffusivity is SpreadD times less
)

// Reached judges the centre fraction after tau.
func (c Cut) Reached(fraction, tau float64) Reach {
	switch {
	case c.Centre(tau/SpreadD) >= fraction:
		return Sure
	case c.Centre(tau) >= fraction:
		return Likely
	default:
		return NotYet
	}
}

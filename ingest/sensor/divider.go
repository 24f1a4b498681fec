package sensor

import "fmt"

// A Divider is a thermistor and a fixed resistor between ground and the supply, read
// by a converter whose full scale is the supply.
type Divider struct {
	SeriesOhm float64 // of the fixed resistor
	FullScale float64 // counts at the supply: 4095 of 12 bits, 1023 of 10
	HighSide  bool    // the thermistor hangs on the supply; else on ground
}

// endCounts from either end a converter cannot tell the wire from nothing (science
// table of the project).
const endCounts = 2

// Check refuses a divider that cannot be.
func (d Divider) Check() error {
	if !(d.SeriesOhm >= 1 && d.SeriesOhm <= 1e8) {
		return fmt.Errorf("a series resistor of %g Ω is not from 1 to 100 000 000", d.SeriesOhm)
	}
	if !(d.FullScale >= 15 && d.FullScale <= 1<<32) {
		return fmt.Errorf("a full scale of %g counts is not from 15 to 4 294 967 296", d.FullScale)
	}
	return nil
}

// Ohm is the resistance of the thermistor, Ω, at so many counts.
func (d Divider) Ohm(counts float64) (ohm float64, why string) {
	if !(counts >= 0 && counts <= d.FullScale) {
		return none("%.6g is outside 0 to %.6g counts", counts, d.FullScale)
	}
	low, high := "a short circuit", "the wire or the plug is open"
	if d.HighSide {
		low, high = high, low
	}
	switch {
	case counts <= endCounts:
		return none("%.6g counts: %s", counts, low)
	case counts >= d.FullScale-endCounts:
		return none("%.6g of %.6g counts: %s", counts, d.FullScale, high)
	case d.HighSide:
		return d.SeriesOhm * (d.FullScale - counts) / counts, ""
	}
	return d.SeriesOhm * counts / (d.FullScale - counts), ""
}

// Counts makes a Conversion of a thermistor behind a divider.
func (d Divider) Counts(s SteinhartHart) Conversion {
	return func(sent, _ float64) (float64, string) {
		ohm, why := d.Ohm(sent)
		if why != "" {
			return none("%s", why)
		}
		return s.TempC(ohm)
	}
}

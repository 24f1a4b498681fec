package main

import "flitch/cmd/flitch/internal/quantity"

// What is typed with its unit is read in package quantity, for the page too.
var (
	grams            = factors(quantity.Grams)
	millimetres      = factors(quantity.Millimetres)
	parseWeight      = quantity.Weight
	parseLength      = quantity.Length
	parseTemperature = quantity.Temperature
	parsePart        = quantity.Part
	parseStrength    = quantity.Strength
	parsePPM         = quantity.PPM
	split            = quantity.Split
	thousandths      = quantity.Thousandths
	within           = quantity.Within
)

// A factor is a unit and how much of our own unit it is.
type factor struct {
	unit string
	of   float64
}

func factors(of []quantity.Factor) (own []factor) {
	for _, f := range of {
		own = append(own, factor{f.Unit, f.Of})
	}
	return own
}

package main

import "flitch/cmd/flitch/internal/quantity"

// What is typed with its unit is read in package quantity, for the page too.
var (
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

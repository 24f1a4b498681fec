// Package heat forecasts a cook and a chill, tells what happens in a cook, and
// measures slopes of temperature.
//
//	cooling.go  Newton cooling: when the core will pass a limit, how sure, and
//	            how cold the air must be to make it in time
//	fit.go      the cooling fitted to readings, and whether it is steady yet
//	slope.go    slope of noisy readings that a few wrong ones cannot move
//	cookwatch*  bad sample, probe out, stuck probe, lid, fire and stall told apart
//	stall*      the stall: a core slow for the heat offered to it
//	ensemble*   when a core will be there, from a thousand pieces it might be
//	oneterm.go series.go ceiling.go  a body in air by its series, and its fastest change
//	properties.go  what a body conducts and holds, from its composition
//	psychrometrics.go wetbulb.go boiling.go  moist air, wet bulb, boiling point
//	evaporation.go  the wet surface of meat, which is why a cook stalls
//
// A forecast is for warning while ice still helps. The verdict on a chill is the
// rule's, from what was measured.
package heat

// A Sample is one reading.
type Sample struct {
	Min float64 // minutes from any start
	C   float64 // °C
}

// Package heat forecasts a chill and measures slopes of temperature.
//
//	cooling.go  Newton cooling: when the core will pass a limit, how sure, and
//	            how cold the air must be to make it in time
//	fit.go      the cooling fitted to readings, and whether it is steady yet
//	slope.go    slope of noisy readings that a few wrong ones cannot move
//
// A forecast is for warning while ice still helps. The verdict on a chill is the
// rule's, from what was measured.
package heat

// A Sample is one reading.
type Sample struct {
	Min float64 // minutes from any start
	C   float64 // °C
}

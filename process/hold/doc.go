// Package hold estimates what is in a fridge from the air around it.
//
//	product.go   the product from the air, and how long until it reaches a limit
//	fit.go       the time constant of a product that had a probe for a while
//	freezing.go  where meat begins to freeze
//	mkt.go       mean kinetic temperature
//	event*       door, door ajar, defrost, too warm and failure told apart; the alarm
//
// A fridge is judged by its product, not by its air: a door that opens moves the
// air by ten degrees and the product by none.
package hold

import "math"

const zeroK = 273.15 // 0 °C in K

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

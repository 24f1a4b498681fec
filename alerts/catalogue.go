package alerts

import (
	"slices"
)

// The sources of the catalogue. Limits in °F are those of the trade and are kept
// exact; delays, bands and repeats are ours until a kitchen has tried them.
const (
	proposal   = "proposal"
	tradeLimit = "limit: common practice, no source; delays and bands: proposal"
	summedIdea = "limit: common practice, no source; continuous and summed delay side by side, because a delay " +
		"that starts afresh at every dip hides a tired fridge: proposal"
)

// Catalogue returns every alarm of this version, in the order of the wall chart:
// cold side, cure tasks, hot side, chill, blindness. The delay of H3 depends on
// what heats the smoker. Measures are the words that the process room uses.
func Catalogue(fuel Fuel) []Entry {
	return slices.Concat(coldSide(), cureTasks(), hotSide(fuel), chill(), blindness())
}

// celsius converts °F to °C.
func celsius(f float64) float64 { return (f - 32) / 1.8 }

// kelvin converts a difference in °F to K.
func kelvin(f float64) float64 { return f / 1.8 }

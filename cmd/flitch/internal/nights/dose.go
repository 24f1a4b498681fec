package nights

import "flitch/process"

// Doses of curing salt, g: 156 ppm of nitrite in each slab.
const (
	doseA = 5.6
	doseB = 5.8
)

func portion(piece string, cureG float64) process.DosePortion {
	return process.DosePortion{Pieces: []string{piece}, CureG: cureG}
}

func (y *year) dose(why string, portions ...process.DosePortion) {
	y.say(process.Command{Kind: process.CommandDosed, Text: why, Dosing: &process.Dosing{Nitrite: 0.0625, PPM: 156, Rule: "us", Portions: portions}})
}

// Package cure computes how far a cure has gone through a piece of meat, and how
// much curing salt a piece gets.
//
//	diffusivity.go  how fast salt moves at a temperature
//	history.go      a temperature record summed to cure days or transformed time
//	cut.go          shape and bath to centre fraction, mean uptake, finish
//	slab.go round.go early.go   the series behind it
//	bath.go         salt and nitrite balance of bag, brine and rub
//	rest.go         salted, then rubbed off and left to even out
//	nitrite.go      loss of nitrite with time
//	dose.go salt.go ingoing ppm and the grams to weigh
//	portion.go mixture.go       a recipe for a slab, a tub or a pickle
//	dosecheck.go spoon.go verdict.go   what was weighed against asked, cap and slips
//	thumb.go        rules of thumb beside the model, and where they part
//	drying.go wateractivity.go  loss of weight forecast, water activity estimated
//	box.go decaying.go          six faces; nitrite that moves and is lost
//
// The model is one-dimensional diffusion of salt in the water of the meat (Crank,
// The Mathematics of Diffusion, 2nd ed. 1975; formulas from memory, each confirmed
// by numerical Laplace inversion and finite volumes). The number it rests on, the
// diffusivity, is known to a factor of 1.67 either way, so every date has an
// interval. Nothing here says that a piece is cured.
package cure

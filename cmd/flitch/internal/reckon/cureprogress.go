package reckon

import (
	"math"
	"slices"

	"flitch/process/cure"
)

// cureProgress is cureTime for a piece whose temperature did not stay the same.
func cureProgress() Calculator {
	keys := slices.DeleteFunc(pieceKeys(), func(k Key) bool { return k.Name == "temp" })
	return Calculator{
		Name: "cure-progress", Help: "How far a cure has come along the temperatures it had.",
		Example: "thickness=1.5in profile=0d:4C|3d:4C|3d:7C|7d:7C",
		Keys: append(keys,
			Key{Name: "profile", Help: "time:temperature of the meat, straight lines between", Read: readProfile, Needed: true},
			Key{Name: "salt", Help: "all salt that went in; with it the weight", Read: readAmount},
			Key{Name: "nitrite", Help: "all sodium nitrite that went in, as 0.35g or 350mg; with it the weight", Read: readAmount},
			Key{Name: "ph", Help: "of the meat, for the loss of nitrite", Read: readNumber, Taken: "5.8", Basis: "pork, from memory"}),
		work: reckonCureProgress,
	}
}

func reckonCureProgress(g given) (Answer, error) {
	piece, err := pieceGiven(g)
	if err != nil {
		return Answer{}, err
	}
	if err := meatPH(g.number("ph")); err != nil {
		return Answer{}, err
	}
	points, path := g.series("profile"), cure.Path(piece.Cut.Shape, piece.ThicknessM, piece.SkinOn)
	tau, decay := 0.0, 0.0
	for i, b := range points[1:] {
		tau += cure.Tau(points[i].value, b.value, b.hours-points[i].hours, path)
		decay += cure.NitriteDecay(points[i].value, b.value, b.hours-points[i].hours, g.number("ph"))
	}
	fraction, last := g.number("fraction"), points[len(points)-1].value
	left := piece.Cut.Finish(fraction, tau, path, last)
	a := Answer{Model: "Fick diffusion of salt in the water of the meat on transformed time, one dimension", Source: crank, Uncertainty: factorOfD}
	a.say("state", string(piece.Cut.Reached(fraction, tau)))
	a.add("centre now", piece.Cut.Centre(tau), "of equilibrium")
	a.add("mean now", piece.Cut.Mean(tau), "of equilibrium")
	a.add("transformed time", tau, "")
	a.add("transformed time asked", piece.Cut.TauFor(fraction), "")
	a.add("days left", left.Hours/ofDay, "d")
	a.add("days left earliest", left.Earliest/ofDay, "d")
	a.add("days left latest", left.Latest/ofDay, "d")
	a.add("nitrite left", cure.NitriteLeft(decay), "of ingoing")
	if err := tasteOf(&a, piece, tau, decay, g); err != nil {
		return a, err
	}
	a.mark(calibrated)
	a.mark("nitrite: " + nordin + "; a factor of 2 in the rate, either way")
	a.note("days left are at %s, the last of the profile; judge by the slowest piece, at its thickest place", degrees(last))
	if saturated(g) {
		a.note(oversalts)
	}
	return a, nil
}

// tasteOf adds salt and nitrite in the centre, when it is said what went in.
func tasteOf(a *Answer, p cure.Piece, tau, decay float64, g given) error {
	if !g.has("salt") && !g.has("nitrite") {
		return nil
	}
	centre, mean := p.Cut.Centre(tau), p.Cut.Mean(tau)
	if math.IsInf(p.Cut.Alpha, 1) {
		box := cure.SaltBox(g.number("water"))
		a.add("centre water-phase salt", box.WaterPhaseSaltPct(centre), "%")
		a.add("centre salt", box.SaltPct(centre), "%")
		a.add("mean salt", box.SaltPct(mean), "%")
		a.note("under solid salt the surface is saturated: the amount that was put on does not count, and nothing is known of nitrite")
		return nil
	}
	if !g.has("weight") {
		return misuse("weight=2268g", "salt and nitrite need the green weight")
	}
	weight, water := g.number("weight"), g.number("water")
	nitriteMG := 1000 * g.number("nitrite")
	free := p.Cut.Alpha / (1 + p.Cut.Alpha) * water * weight
	bath := cure.Bag(weight, water, free, g.number("salt"), nitriteMG)
	if g.word("bath") == "brine" {
		bath = cure.Brine(weight, water, p.Cut.Alpha*water*weight, g.number("salt"), nitriteMG)
	}
	if g.has("salt") {
		a.add("centre water-phase salt", bath.WaterPhaseSaltPct(centre), "%")
		a.add("centre salt", bath.SaltPct(centre), "%")
		a.add("mean salt", bath.SaltPct(mean), "%")
	}
	if g.has("nitrite") {
		a.add("centre nitrite, ingoing", bath.NitritePPM(centre), "ppm")
		a.add("centre nitrite, still there", bath.NitritePPM(centre)*cure.NitriteLeft(decay), "ppm")
	}
	return nil
}

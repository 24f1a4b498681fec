package main

import "flitch/process/cure"

// dryProgress is the drying model the other way about: the loss for a diffusivity.
func dryProgress() calculator {
	return calculator{
		name: "dry-progress", help: "What a drying piece will have lost after a time, for a diffusivity you know from weighings.",
		example: "thickness=50mm diffusivity=6.5e-11 time=21d",
		keys: []key{
			{name: "thickness", help: "at the thickest place", read: readLength, needed: true},
			{name: "diffusivity", help: "of water, m²/s, as dry-time fits it", read: readNumber, taken: "5e-11", basis: "ham at 75 % humidity 2.4e-11 to 6.6e-11, seen: a decade of spread"},
			{name: "time", help: "of drying", read: readTime, needed: true},
			{name: "end", help: "loss at the very end", read: readPercent, taken: "50%", basis: "assumption for lean; belly 35 %"},
			{name: "skin", help: "on or off; on is a sealed face", read: readWord("off", "on"), taken: "off", basis: "most is dried so"},
			sidesKey(),
		},
		work: func(g given) (answer, error) {
			sealed, err := skinGiven(g)
			if err != nil {
				return answer{}, err
			}
			d := cure.Drying{PathM: cure.Path(cure.Slab, g.number("thickness")*mm, sealed), Limit: g.number("end"), D: g.number("diffusivity")}
			if !(d.D > 0 && d.D < 1e-6 && d.Limit > 0) {
				return answer{}, misuse("diffusivity=5e-11 end=50%", "the diffusivity of water in meat is near 5e-11 m²/s, and the loss at the end above 0 %%")
			}
			a := answer{Model: "drying of a slab with constant surface", Source: crank,
				Uncertainty: "that of the diffusivity, which spans a decade between rooms: never promise a date without two weighings"}
			a.add("loss", 100*d.Loss(g.number("time")/ofDay), "%")
			a.mark("assumption: the loss at the very end")
			return a, nil
		},
	}
}

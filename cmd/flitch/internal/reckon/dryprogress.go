package reckon

import "flitch/process/cure"

// dryProgress is the drying model the other way about: the loss for a diffusivity.
func dryProgress() Calculator {
	return Calculator{
		Name: "dry-progress", Help: "What a drying piece will have lost after a time, for a diffusivity you know from weighings.",
		Example: "thickness=50mm diffusivity=6.5e-11 time=21d",
		Keys: []Key{
			{Name: "thickness", Help: "at the thickest place", Read: readLength, Needed: true},
			{Name: "diffusivity", Help: "of water, m²/s, as dry-time fits it", Read: readNumber, Taken: "5e-11", Basis: "ham at 75 % humidity 2.4e-11 to 6.6e-11, seen: a decade of spread"},
			{Name: "time", Help: "of drying", Read: readTime, Needed: true},
			{Name: "end", Help: "loss at the very end", Read: readPercent, Taken: "50%", Basis: "assumption for lean; belly 35 %"},
			{Name: "skin", Help: "on or off; on is a sealed face", Read: readWord("off", "on"), Taken: "off", Basis: "most is dried so"},
			sidesKey(),
		},
		work: func(g given) (Answer, error) {
			sealed, err := skinGiven(g)
			if err != nil {
				return Answer{}, err
			}
			d := cure.Drying{PathM: cure.Path(cure.Slab, g.number("thickness")*mm, sealed), Limit: g.number("end"), D: g.number("diffusivity")}
			if !(d.D > 0 && d.D < 1e-6 && d.Limit > 0) {
				return Answer{}, misuse("diffusivity=5e-11 end=50%", "the diffusivity of water in meat is near 5e-11 m²/s, and the loss at the end above 0 %%")
			}
			a := Answer{Model: "drying of a slab with constant surface", Source: crank,
				Uncertainty: "that of the diffusivity, which spans a decade between rooms: never promise a date without two weighings"}
			a.add("loss", 100*d.Loss(g.number("time")/ofDay), "%")
			a.mark("assumption: the loss at the very end")
			return a, nil
		},
	}
}

package reckon

import (
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/cure"
)

func dryTime() Calculator {
	return Calculator{
		Name: "dry-time", Help: "When a drying piece will have lost its weight, from weighings.",
		Example: "thickness=50mm weighed=0d:1000g|7d:860g|14d:800g target=35%",
		Keys: []Key{
			{Name: "thickness", Help: "at the thickest place", Read: readLength, Needed: true},
			{Name: "weighed", Help: "day:weight, the first when drying began", Read: Reader{Example: "0d:1000g|7d:860g", value: profile(quantity.ExactWeight)}},
			{Name: "at", Help: "or the day of one weighing", Read: readTime},
			{Name: "loss", Help: "and the loss then", Read: readPercent},
			{Name: "target", Help: "loss that is asked for: 30 to 40 % air-dried whole cuts, 5 to 15 % aged bacon (from memory)", Read: readPercent, Needed: true},
			{Name: "end", Help: "loss at the very end", Read: readPercent, Taken: "50%", Basis: "assumption for lean; belly 35 %"},
			{Name: "skin", Help: "on or off; on is a sealed face", Read: readWord("off", "on"), Taken: "off", Basis: "most is dried so"},
			sidesKey(),
		},
		work: reckonDryTime,
	}
}

func reckonDryTime(g given) (Answer, error) {
	sealed, err := skinGiven(g)
	if err != nil {
		return Answer{}, err
	}
	losses, err := lossesGiven(g)
	if err != nil {
		return Answer{}, err
	}
	d := cure.Drying{PathM: cure.Path(cure.Slab, g.number("thickness")*mm, sealed), Limit: g.number("end")}
	f, err := d.Forecast(losses, g.number("target"))
	if err != nil {
		return Answer{}, misuse("weighed=0d:1000g|7d:860g|14d:800g target=35%", "%s", strings.TrimPrefix(err.Error(), "drying: "))
	}
	last := losses[len(losses)-1]
	a := Answer{
		Model:       "drying of a slab with constant surface, diffusivity fitted to your weighings",
		Source:      crank,
		Uncertainty: "earliest and latest span the fits and 1.25 either way (proposal)",
	}
	a.add("loss so far", 100*last.Loss, "%")
	a.add("days from start", f.Days, "d")
	a.add("days left", max(0, f.Days-last.Days), "d")
	a.add("earliest from start", f.Earliest, "d")
	a.add("latest from start", f.Latest, "d")
	a.add("fitted diffusivity", f.Fits[len(f.Fits)-1]*1e11, "1e-11 m²/s")
	a.mark("assumption: the loss at the very end")
	if !f.Promised {
		a.Uncertainty = "one weighing only: earliest and latest are a factor of 2 in the diffusivity (proposal)"
		a.note("one weighing promises no date: weigh it once more")
	}
	if f.Hardening {
		a.note("the last fit is well under the first: the surface may have closed (case hardening); it will take longer than this")
	}
	a.note("a loss of weight alone proves no water activity: flitch reckon water-activity")
	return a, nil
}

// lossesGiven are the weighings, behind the one at the start.
func lossesGiven(g given) ([]cure.Weighing, error) {
	if err := g.only("weighed", "at"); err != nil {
		return nil, err
	}
	if g.has("at") != g.has("loss") {
		return nil, misuse("at=21d loss=26%", "the day of a weighing and the loss go together")
	}
	if g.has("at") {
		return []cure.Weighing{{Days: g.number("at") / ofDay, Loss: g.number("loss")}}, nil
	}
	weighed := g.series("weighed")
	var losses []cure.Weighing
	for _, m := range weighed[1:] {
		losses = append(losses, cure.Weighing{Days: (m.hours - weighed[0].hours) / ofDay, Loss: 1 - m.value/weighed[0].value})
	}
	return losses, nil
}

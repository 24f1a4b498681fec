package reckon

import (
	"math"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/cure"
)

// cureParts is cureTime for a dose that goes on in parts, as when half is rubbed in
// and half a week later.
func cureParts() Calculator {
	keys := slices.Clone(pieceKeys())
	for i := range keys {
		if keys[i].Name == "thickness" || keys[i].Name == "temp" {
			keys[i].Needed = false
		}
	}
	return Calculator{
		Name: "cure-parts", Help: "A dose put on in parts: how far the centre is, beside the whole dose put on at once.",
		Example: "thickness=1.5in temp=4C doses=0d:50%|3d:50% time=10d",
		Keys: append(keys,
			Key{Name: "doses", Help: "time:part of the whole dose; the parts come to 100%", Read: readDoses},
			Key{Name: "time", Help: "since the first part", Read: readTime},
			Key{Name: "tau-doses", Help: "instead of thickness, temp, doses and time: transformed time:part, as 0:0.5|0.1:0.5", Read: readTauDoses},
			Key{Name: "tau-end", Help: "and the transformed time that is asked for", Read: readNumber}),
		work: reckonCureParts,
	}
}

func reckonCureParts(g given) (Answer, error) {
	piece, err := pieceGiven(g)
	if err != nil {
		return Answer{}, err
	}
	if math.IsInf(piece.Cut.Alpha, 1) {
		return Answer{}, misuse("bath=bag or bath=brine", "parts are of a weighed dose: under solid salt and in an endless bath the amount does not count")
	}
	doses, end, err := dosesGiven(g, piece)
	if err != nil {
		return Answer{}, err
	}
	cut, fraction := piece.Cut, g.number("fraction")
	a := Answer{Model: "Fick diffusion of salt in the water of the meat, limited bath, one dimension; the responses to the parts add up", Source: crank, Uncertainty: factorOfD}
	a.say("state", string(reachedInParts(cut, doses, fraction, end)))
	a.add("centre now", cut.CentreOf(doses, end), "of equilibrium")
	a.add("mean now", cut.MeanOf(doses, end), "of equilibrium")
	a.add("centre all at once", cut.Centre(end-doses[0].Tau), "of equilibrium")
	a.add("mean all at once", cut.Mean(end-doses[0].Tau), "of equilibrium")
	a.add("transformed time", end, "")
	a.mark(calibrated)
	a.mark("assumption: the free liquid is the same from the first part to the last")
	if doses[len(doses)-1].Tau > end {
		a.note("not all of the parts are on yet at that time")
	}
	a.note("equilibrium is that of the whole dose")
	return a, nil
}

// reachedInParts judges the centre as Cut.Reached does: all times shrink together when
// the diffusivity is less.
func reachedInParts(cut cure.Cut, doses []cure.Dose, fraction, end float64) cure.Reach {
	slow := slices.Clone(doses)
	for i := range slow {
		slow[i].Tau /= cure.SpreadD
	}
	switch {
	case cut.CentreOf(slow, end/cure.SpreadD) >= fraction:
		return cure.Sure
	case cut.CentreOf(doses, end) >= fraction:
		return cure.Likely
	}
	return cure.NotYet
}

// dosesGiven are the parts on transformed time, and the end: as given, or of times at
// one temperature.
func dosesGiven(g given, piece cure.Piece) (doses []cure.Dose, end float64, err error) {
	if err := g.only("doses", "tau-doses"); err != nil {
		return nil, 0, err
	}
	parts, each := g.series("tau-doses"), 1.0
	end = g.number("tau-end")
	if g.has("tau-doses") {
		if err := g.without("tau-doses", "thickness", "temp", "time", "skin", "sides"); err != nil {
			return nil, 0, err
		}
		if !g.has("tau-end") {
			return nil, 0, misuse("tau-doses=0:0.5|0.1:0.5 tau-end=0.3", "tau-doses and tau-end go together")
		}
	} else {
		if !g.has("thickness") || !g.has("temp") || !g.has("time") || g.has("tau-end") {
			return nil, 0, misuse("thickness=1.5in temp=4C doses=0d:50%|3d:50% time=10d", "doses go with thickness, temp and time, and without tau-end")
		}
		path := cure.Path(piece.Cut.Shape, piece.ThicknessM, piece.SkinOn)
		each = cure.Tau(g.number("temp"), g.number("temp"), 1, path)
		parts, end = g.series("doses"), each*g.number("time")
	}
	for _, p := range parts {
		doses = append(doses, cure.Dose{Tau: each * p.hours, Share: p.value})
	}
	if !(end >= 0 && end <= longestTau) {
		return nil, 0, misuse("time=10d, or tau-end=0.3", "a transformed time of %.3g is no cure", end)
	}
	return doses, end, nil
}

var (
	readDoses    = Reader{Example: "0d:50%|3d:50%", value: wholeDose(profile(quantity.Part))}
	readTauDoses = Reader{Example: "0:0.5|0.1:0.5", value: wholeDose(tauProfile)}
)

// shareSlip is how far the parts may be from the whole: 33 % three times is meant as all.
const shareSlip = 0.0101

// wholeDose takes parts that come to the whole.
func wholeDose(read func(string) (value, error)) func(string) (value, error) {
	return func(text string) (value, error) {
		v, err := read(text)
		if err != nil {
			return v, err
		}
		sum := 0.0
		for _, p := range v.series {
			sum += p.value
		}
		if math.Abs(sum-1) > shareSlip {
			return v, misuse("parts that come to 100%, as 0d:50%|3d:50%", "the parts of %q come to %.4g %%", text, 100*sum)
		}
		return v, nil
	}
}

// tauProfile reads "0:0.5|0.1:0.5", transformed times and parts: neither has a unit.
func tauProfile(text string) (value, error) {
	var out []moment
	for point := range strings.SplitSeq(text, "|") {
		at, share, _ := strings.Cut(point, ":")
		tau, err := quantity.Plain(quantity.WithoutExponent(at))
		if err != nil {
			return value{}, err
		}
		part, err := quantity.Plain(quantity.WithoutExponent(share))
		if err != nil {
			return value{}, err
		}
		if !(tau >= 0) || !(part >= 0) || len(out) > 0 && tau < out[len(out)-1].hours {
			return value{}, misuse("0:0.5|0.1:0.5, in order of time", "%q is no part of a dose after the point in front of it", point)
		}
		out = append(out, moment{tau, part})
	}
	return value{series: out}, nil
}

package process

import (
	"fmt"
	"slices"
	"strings"

	"flitch/process/cure"
)

// checkAsked refuses a dose that was worked out for a new batch and could not be weighed: what
// is asked is checked as it will be when it was weighed.
func (d *Dosing) checkAsked(names map[string]bool) error {
	if d == nil {
		return nil
	}
	if err := d.check(); err != nil {
		return err
	}
	if err := d.checkLimits(); err != nil {
		return err
	}
	for _, p := range d.Portions {
		switch {
		case slices.ContainsFunc(p.Pieces, func(name string) bool { return !names[name] }) || len(p.Pieces) == 0:
			return refuse(fmt.Sprintf("a dose is asked for %q, which is not in the batch", strings.Join(p.Pieces, "+")), "ask it of one of the pieces")
		case p.CureG != 0 || !(p.AskedG > 0 && p.AskedG <= mostCureG):
			return refuse(fmt.Sprintf("%s: %g g are asked", strings.Join(p.Pieces, "+"), p.AskedG), "grams of curing salt by the recipe: 5.7")
		}
	}
	if len(d.Portions) == 0 && !(d.PPM > 0) {
		return refuse("nobody said what is asked", "ppm of ingoing nitrite, or the grams of the recipe")
	}
	return nil
}

// checkLimits refuses to ask for what the chosen rule does not allow.
func (d *Dosing) checkLimits() error {
	limit, err := d.limit()
	if err != nil {
		return refuse(err.Error(), "--rule us, canada, fda-home or none")
	}
	if c := limit.CheckNitrate(cure.CuringSalt{Nitrite: d.Nitrite, Nitrate: d.Nitrate}); c.Answer == cure.NotMet {
		return refuse(fmt.Sprintf("%.4g %% nitrate is refused by %s: %s", c.Value, limit.Rule, c.Hint), "a curing salt without nitrate")
	}
	if limit.CheckCap(d.PPM).Answer == cure.NotMet && d.PPM > limit.CapPPM {
		return refuse(fmt.Sprintf("%.4g ppm is over %.4g ppm, the cap of %s", d.PPM, limit.CapPPM, limit.Rule), fmt.Sprintf("--ppm %.4g", limit.CapPPM))
	}
	return nil
}

// orAsked fills in what was asked of a portion when the batch was begun, unless the
// person says what is asked.
func (b *Batch) orAsked(said Dosing, list []DosePortion) []DosePortion {
	if b.Asked == nil || said.PPM > 0 {
		return list
	}
	list = slices.Clone(list)
	for i := range list {
		for _, a := range b.Asked.Portions {
			if list[i].AskedG == 0 && slices.Equal(a.Pieces, list[i].Pieces) {
				list[i].AskedG = a.AskedG
			}
		}
	}
	return list
}

// CompleteAsked fills in what the plan says of a dose and the person left out, as it will
// be when it is weighed.
func CompleteAsked(plan Plan, d Dosing) Dosing {
	whole := (&Batch{Plan: plan}).completed(d)
	if whole.Portions = d.Portions; len(d.Portions) > 0 && d.PPM == 0 {
		whole.PPM = 0 // the grams are asked, and not the plan's ppm
	}
	return whole
}

package process

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/process/cure"
	"flitch/process/rules"
)

// NoRule says by which rule a dose is checked when the user has chosen none: then
// nobody has said how much is allowed.
const NoRule = "none"

// A Dosing is curing salt that was weighed for pieces of a batch, as a person said it.
// What is left out, but for the weights, is as it was said of the batch before.
type Dosing struct {
	Portions []DosePortion `json:"portions"`
	Nitrite  float64       `json:"nitrite,omitempty"`  // part of the curing salt, 0 to 1, by the packet
	Nitrate  float64       `json:"nitrate,omitempty"`  // the same
	PPM      float64       `json:"ppm,omitempty"`      // ingoing nitrite that was asked; 0: the grams were
	Rule     string        `json:"rule,omitempty"`     // "us", "canada", "fda-home", or NoRule
	Method   string        `json:"method,omitempty"`   // as process/cure names it; empty: the plan's
	Product  string        `json:"product,omitempty"`  // "bacon" or "meat"; empty: the plan's
	WaterG   float64       `json:"water_g,omitempty"`  // of the brine, for equilibrium
	PickleG  float64       `json:"pickle_g,omitempty"` // all in, for pumped and picked up
	Uptake   float64       `json:"uptake,omitempty"`   // pump or pick-up, part of green weight
}

// A DosePortion is what went on one piece, or on all that lie in one brine.
type DosePortion struct {
	Pieces []string `json:"pieces"`
	CureG  float64  `json:"cure_g"`            // weighed, g
	AskedG float64  `json:"asked_g,omitempty"` // g; 0: by PPM
}

// A DoseEntry is a portion as it was entered, complete, with what its checks came to.
type DoseEntry struct {
	ID     string       `json:"id,omitempty"` // of its command
	At     time.Time    `json:"at"`           // when it went on, by the person's word
	Typed  time.Time    `json:"typed"`        // by the daemon's clock
	By     string       `json:"by"`
	Why    string       `json:"why,omitempty"` // of a correction
	Pieces []string     `json:"pieces"`
	CureG  float64      `json:"cure_g"`
	AskedG float64      `json:"asked_g"`
	PPM    float64      `json:"ppm"` // ingoing nitrite of what was weighed
	Said   Dosing       `json:"said"`
	Checks []cure.Check `json:"checks"`
}

// Answer is what the checks of a dose came to. That no rule was chosen fails nothing.
func (e DoseEntry) Answer() Verdict {
	switch cure.Worst(e.Checks) {
	case cure.NotMet:
		return NotMet
	case cure.Held:
		return Held
	}
	return Met
}

func (e DoseEntry) fails() bool { return e.Answer() != Met }

// Text is the dose in words, with what its checks complain of.
func (e DoseEntry) Text() string {
	text := fmt.Sprintf("%s: %.4g g of curing salt weighed, %.4g g asked, %.4g ppm ingoing", strings.Join(e.Pieces, "+"), e.CureG, e.AskedG, e.PPM)
	return strings.Join(append([]string{text}, e.Complaints()...), "; ")
}

// Complaints are the checks that a dose fails, each with what to do.
func (e DoseEntry) Complaints() (lines []string) {
	for _, c := range e.Checks {
		if c.Answer == cure.NotMet || c.Answer == cure.Held {
			lines = append(lines, fmt.Sprintf("%s %s: %s", c.Name, c.Answer, c.Hint))
		}
	}
	return lines
}

// Complete fills in what a command left out because the batch knows it, so that the
// log holds it whole: in a recount another dose may come first.
func Complete(b *Batch, c Command) Command {
	if c.Kind == CommandDisposition && b != nil {
		c.Covers = b.covered()
	}
	if c.Kind != CommandDosed || b == nil || c.Dosing == nil {
		return c
	}
	whole := b.completed(*c.Dosing)
	whole.Portions = b.orAsked(*c.Dosing, c.Dosing.Portions)
	c.Dosing = &whole
	return c
}

// completed fills in what was not said from what was said before and from the plan.
func (b *Batch) completed(d Dosing) Dosing {
	var last Dosing
	if b.Asked != nil {
		last = *b.Asked
	}
	if n := len(b.Doses); n > 0 {
		last = b.Doses[n-1].Said
	}
	if d.Nitrite == 0 {
		d.Nitrite, d.Nitrate = last.Nitrite, last.Nitrate
	}
	d.PPM = cmp.Or(d.PPM, last.PPM, b.Plan.Cure.NitritePPM)
	d.Rule = cmp.Or(d.Rule, last.Rule)
	d.Method = cmp.Or(d.Method, last.Method, b.Plan.Cure.Method)
	d.Product = cmp.Or(d.Product, last.Product, b.Plan.Cure.Product)
	d.WaterG, d.PickleG, d.Uptake = cmp.Or(d.WaterG, last.WaterG), cmp.Or(d.PickleG, last.PickleG), cmp.Or(d.Uptake, last.Uptake)
	d.Portions = nil
	return d
}

// doseEntry works one portion out; said is complete. The error is of a recipe that
// cannot be worked, or of a rule that nobody knows.
func (b *Batch) doseEntry(said Dosing, p DosePortion) (DoseEntry, error) {
	e := DoseEntry{Pieces: p.Pieces, CureG: p.CureG, AskedG: p.AskedG, Said: said}
	limit, err := said.limit()
	if err != nil {
		return e, err
	}
	recipe, green, skin := b.recipe(said), 0.0, true
	for _, name := range p.Pieces {
		green += b.greenG(name)
		skin = skin && b.skinOn(name)
	}
	weighed, err := recipe.Weighed(green, p.CureG, skin)
	if err != nil {
		return e, err
	}
	if e.PPM = weighed.PPM; e.AskedG == 0 {
		asked, err := recipe.Asked(green, skin)
		if err != nil {
			return e, err
		}
		e.AskedG = asked.CureG
	}
	e.Checks = []cure.Check{cure.CheckWeighed(e.AskedG, e.CureG), cure.CheckSlip(e.AskedG, e.CureG),
		limit.CheckCap(e.PPM), limit.CheckNitrate(recipe.Mix)}
	return e, nil
}

// usualWater is the water part of belly (from memory). No check of a dose looks at it.
const usualWater = 0.5

func (b *Batch) recipe(d Dosing) cure.Recipe {
	mix := cure.CuringSalt{Nitrite: d.Nitrite, Nitrate: d.Nitrate}.WithRest()
	return cure.Recipe{Method: cure.Method(d.Method), Mix: mix, PPM: d.PPM, WaterG: d.WaterG, PickleG: d.PickleG, Uptake: d.Uptake,
		MeatWater: cmp.Or(b.Plan.Cure.Water, usualWater)}
}

func (d Dosing) limit() (cure.Limit, error) {
	if d.Rule == NoRule {
		return cure.Limit{Source: "no rule was chosen"}, nil
	}
	return NitriteLimit(rules.Curing{Rule: d.Rule, Product: d.Product, Method: d.Method}, d.Nitrate > 0)
}

// NitriteLimit is what a published rule says about a curing, with or without nitrate
// in the curing salt. The error is of a rule that no table knows.
func NitriteLimit(c rules.Curing, nitrate bool) (cure.Limit, error) {
	if err := c.Check(); err != nil {
		return cure.Limit{}, err
	}
	l := cure.Limit{Rule: strings.Join([]string{c.Rule, c.Product, c.Method}, ", "), Source: "the rule names no limit for this"}
	if row, ok := c.Cap(); ok {
		l.CapPPM, l.Exact = row.PPM, row.Kind == "exact"
		l.Rule, l.Source = c.Rule+", "+row.AppliesTo, row.Source+" ("+row.Provenance+")"
	}
	row, allowed := c.Nitrate()
	if l.NoNitrate = !allowed; l.NoNitrate && row.Source != "" && nitrate {
		l.Source = row.Source + " (" + row.Provenance + ")"
	}
	return l, nil
}

// Dose is the entry in force for a piece: the one typed last. Nil: there is none.
func (b *Batch) Dose(piece string) *DoseEntry {
	var in *DoseEntry
	for i := range b.Doses {
		if e := &b.Doses[i]; slices.Contains(e.Pieces, piece) && (in == nil || !e.Typed.Before(in.Typed)) {
			in = e
		}
	}
	return in
}

// DosesInForce are the entries that hold for one piece or more, in the order of the
// pieces.
func (b *Batch) DosesInForce() []DoseEntry {
	var list []*DoseEntry
	for _, p := range b.Pieces {
		if e := b.Dose(p.Name); e != nil && !slices.Contains(list, e) {
			list = append(list, e)
		}
	}
	out := make([]DoseEntry, len(list))
	for i, e := range list {
		out[i] = *e
	}
	return out
}

func (b *Batch) skinOn(piece string) bool {
	i := slices.IndexFunc(b.Pieces, func(p Piece) bool { return p.Name == piece })
	return i >= 0 && b.Pieces[i].SkinOn
}

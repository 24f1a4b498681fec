package web

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/plain"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
	"flitch/process/cure"
)

// A begun is a new batch as it was read from the form: what would be started.
type begun struct {
	Request NewRequest
	Plan    process.Plan
	Doses   *dosing.Report // nil: none is asked
}

// read reads the form. What is wrong is noted beside its field; then the answer is not
// to be used.
func (f *beginForm) read(c Choices) (b begun) {
	plan, known := f.plan(c)
	b.Plan = plan
	b.Request = NewRequest{Plan: f.Plan, Fridge: f.Fridge, Smoker: f.Smoker, Chill: f.Chill, Cores: map[string]string{}}
	if f.Name == "" {
		f.Wrong["name"] = must("err.begin.name")
	}
	recipes := f.readRows(&b.Request)
	if len(b.Request.Pieces) == 0 && len(f.Wrong) == 0 {
		f.Wrong["weight-0"] = must("err.begin.pieces")
	}
	if known {
		f.readDose(&b, recipes)
	}
	return b
}

func (f *beginForm) plan(c Choices) (process.Plan, bool) {
	for _, p := range c.Plans {
		if p.Name == f.Plan && string(p.Class) == f.Class {
			return p, true
		}
	}
	f.Wrong["plan"] = must("err.begin.plan")
	return process.Plan{}, false
}

// readRows reads the slabs; recipes are the grams of curing salt that a recipe asks for
// each of them, 0 where it does not.
func (f *beginForm) readRows(r *NewRequest) (recipes []float64) {
	seen := map[string]bool{}
	for i, row := range f.Rows {
		if row.empty() {
			continue
		}
		at := func(field string) string { return fmt.Sprint(field, "-", i) }
		p := process.Piece{Name: row.Name, SkinOn: row.Skin,
			GreenG: f.quantity(at("weight"), row.Weight, "g", quantity.Weight), ThicknessMM: f.quantity(at("thick"), row.Thick, "mm", quantity.Length)}
		switch {
		case p.Name == "":
			f.Wrong[at("piece")] = must("err.begin.letter")
		case strings.ContainsAny(p.Name, "+:=") || len(p.Name) > 20:
			f.Wrong[at("piece")] = must("err.begin.letter.odd", p.Name)
		case seen[p.Name]:
			f.Wrong[at("piece")] = must("err.begin.twice", p.Name)
		}
		seen[p.Name] = true
		if row.Core != "" && r.Cores[row.Core] != "" {
			f.Wrong[at("core")] = must("err.begin.core", row.Core, r.Cores[row.Core])
		} else if row.Core != "" {
			r.Cores[row.Core] = p.Name
		}
		grams := 0.0
		if row.Recipe != "" {
			grams = f.quantity(at("recipe"), pointed(row.Recipe), "g", quantity.DoseWeight)
		}
		r.Pieces, recipes = append(r.Pieces, p), append(recipes, grams)
	}
	return recipes
}

// readDose reads the packet and what is asked, and has the dose worked out. A plan that
// asks for no dose may have none.
func (f *beginForm) readDose(b *begun, recipes []float64) {
	byRecipe := false
	for _, g := range recipes {
		byRecipe = byRecipe || g > 0
	}
	if !b.Plan.Cure.Dosed && f.Nitrite == "" && f.PPM == "" && !byRecipe {
		return
	}
	d := process.Dosing{Rule: f.Rule, Product: cmp.Or(b.Plan.Cure.Product, f.Product)}
	way := cmp.Or(f.Method, wayOf(b.Plan.Cure.Method))
	d.Method = string(dosing.Methods[way])
	if f.Nitrite == "" {
		f.Wrong["nitrite"] = must("err.begin.nitrite")
	}
	for _, q := range []struct {
		name, text, unit string
		parse            func(string) (float64, error)
		into             *float64
	}{
		{"nitrite", f.Nitrite, "%", quantity.Strength, &d.Nitrite}, {"nitrate", f.Nitrate, "%", quantity.Strength, &d.Nitrate},
		{"ppm", f.PPM, "ppm", quantity.PPM, &d.PPM}, {"brine", f.Brine, "g", quantity.DoseWeight, &d.WaterG},
		{"pickle", f.Pickle, "g", quantity.DoseWeight, &d.PickleG}, {"pump", f.Pump, "%", quantity.Part, &d.Uptake},
	} {
		if q.text != "" {
			*q.into = f.quantity(q.name, pointed(q.text), q.unit, q.parse)
		}
	}
	for name, empty := range map[string]bool{"rule": d.Rule == "", "method": d.Method == "", "product": d.Product == ""} {
		if empty {
			f.Wrong[name] = must("err.begin." + name)
		}
	}
	if byRecipe && d.PPM > 0 {
		f.Wrong["ppm"] = must("err.begin.both")
	}
	if len(f.Wrong) > 0 {
		return
	}
	f.dose(b, d, way, recipes)
}

// dose has package dosing work out what to weigh.
func (f *beginForm) dose(b *begun, d process.Dosing, way string, recipes []float64) {
	o := dosing.Order{Method: way, Rule: d.Rule, Product: d.Product, PPM: d.PPM, MeatWater: cmp.Or(b.Plan.Cure.Water, dosing.BellyWater),
		BrineG: d.WaterG, PickleG: d.PickleG, Pump: d.Uptake}
	o.Mix.Nitrite, o.Mix.Nitrate = d.Nitrite, d.Nitrate
	for i, p := range b.Request.Pieces {
		if recipes[i] == 0 && d.PPM == 0 {
			f.Wrong["ppm"] = must("err.begin.asked", p.Name)
			return
		}
		o.Pieces = append(o.Pieces, dosing.Lot{Name: p.Name, GreenG: p.GreenG, WeighedG: recipes[i], SkinOn: p.SkinOn})
	}
	o.Lots = o.Together()
	report, err := o.Report()
	if err != nil {
		f.complain("ppm", err)
		return
	}
	for i, lot := range o.Lots {
		f.refuseRecipe(lot.Name, report.Lots[i].Checks)
		if d.PPM == 0 {
			d.Portions = append(d.Portions, process.DosePortion{Pieces: strings.Split(lot.Name, "+"), AskedG: lot.WeighedG})
		}
	}
	b.Doses, b.Request.Asked = &report, &d
}

// refuseRecipe says beside its grams that a recipe is over what the rule allows.
func (f *beginForm) refuseRecipe(lot string, checks []cure.Check) {
	for _, c := range checks {
		for i, row := range f.Rows {
			if c.Answer == cure.NotMet && row.Recipe != "" && slices.Contains(strings.Split(lot, "+"), row.Name) {
				f.Wrong[fmt.Sprint("recipe-", i)] = must("err.begin.recipe", c.Value, c.Unit, c.Limit, c.Rule)
			}
		}
	}
}

// quantity reads what was typed; a bare number is in the unit that the form names.
func (f *beginForm) quantity(name, text, unit string, parse func(string) (float64, error)) float64 {
	if text == "" {
		f.Wrong[name] = must("err.begin.empty")
		return 0
	}
	if _, bare := plain.Number(text); bare {
		text += unit
	}
	v, err := parse(text)
	if err != nil {
		f.complain(name, err)
	}
	return v
}

// complain puts a complaint beside the field it is about, or beside the named one.
func (f *beginForm) complain(name string, err error) {
	if c, ok := errors.AsType[*quantity.Complaint](err); ok && c.About != "" {
		name = c.About
	}
	f.Wrong[name] = err.Error()
}

// pointed is a number with a comma before its decimals as one with a point. It is for what
// is never in the thousands, and so never means them by the comma.
func pointed(text string) string { return strings.Replace(text, ",", ".", 1) }

package main

import (
	"strings"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/quantity"
)

type doseCommand struct {
	Piece      []string `help:"One slab: name:green weight. Once for each." required:"" sep:"none" placeholder:"A:2268g"`
	Method     string   `help:"How the cure gets in: dry, bag, immersion, pumped or comminuted." required:"" enum:"dry,bag,immersion,pumped,comminuted" placeholder:"METHOD"`
	Nitrite    string   `help:"Nitrite in the curing salt, as YOUR packet says. There is no default." placeholder:"6.25%"`
	Nitrate    string   `help:"Nitrate in the curing salt, if the packet names it." placeholder:"4%"`
	Salt       string   `help:"Salt in the curing salt; the rest when left out." placeholder:"93.75%"`
	Sugar      string   `help:"Sugar in the curing salt, if the packet names it." placeholder:"30%"`
	PPM        string   `name:"ppm" help:"Ingoing nitrite asked." placeholder:"120"`
	Cure       []string `help:"Curing salt that was weighed: name:weight, or the weight when there is one slab." sep:"none" placeholder:"A:4.4g"`
	SaltTarget string   `help:"All salt asked, part of green weight; immersion: of meat and water." placeholder:"2.5%"`
	Brine      string   `help:"Immersion: water of the brine." placeholder:"1.5kg"`
	Pickle     string   `help:"Pumped: the pickle, all in." placeholder:"5kg"`
	Pump       string   `help:"Pumped: pickle that goes in, part of green weight." placeholder:"10%"`
	MeatWater  string   `help:"Water of the green meat: belly 50%, loin 74%, ham 65% (from memory)." default:"50%" placeholder:"PART"`
	Skin       string   `help:"on or off. With the skin on, 0.9 of the weight counts." enum:"on,off" default:"off" placeholder:"ON"`
	Rule       string   `help:"Whose limits: us, canada or fda-home." enum:"us,canada,fda-home,none" default:"none" placeholder:"RULE"`
	Product    string   `help:"bacon, or meat for anything else." enum:"bacon,meat" default:"bacon" placeholder:"PRODUCT"`
	Cap        string   `help:"Your own cap on ingoing nitrite." placeholder:"120"`
	JSON       bool     `name:"json" help:"Print everything as JSON."`
}

// Help shows examples.
func (doseCommand) Help() string {
	return "Grams for each slab on its green weight, by the strength on your packet, and checks of what was weighed. Never by the spoon." +
		"\n\nExample:\n\n    flitch dose --piece A:2268g --piece B:5lb --method bag --nitrite 6.25% --ppm 120 --salt-target 2.5% --rule us" +
		"\n    flitch dose --piece A:2268g --method bag --nitrite 6.25% --ppm 120 --rule us --cure 4.4g"
}

// Run says what to weigh, and what the checks came to.
func (c doseCommand) Run(t terminal) error {
	order, err := c.order()
	if err != nil {
		return err
	}
	report, err := order.Report()
	if err != nil {
		return err
	}
	if c.JSON {
		err = writeJSON(t.out, report)
	} else {
		err = printDoses(t.out, report)
	}
	if err != nil {
		return err
	}
	return report.Complaint()
}

// order reads the flags.
func (c doseCommand) order() (dosing.Order, error) {
	pieces, err := dosePieces(c.Piece)
	if err != nil {
		return dosing.Order{}, err
	}
	o := dosing.Order{Method: c.Method, SkinOn: c.Skin == "on", Rule: c.Rule, Product: c.Product, Pieces: pieces}
	if o.Lots, err = lotsOf(o, c.Cure); err != nil {
		return o, err
	}
	if c.Nitrite == "" {
		return o, misuse("--nitrite with the percent on your packet, as --nitrite 6.25%", "the strength of the curing salt is missing: makers differ, and there is no default")
	}
	for _, f := range []struct {
		flag, text string
		parse      func(string) (float64, error)
		into       *float64
	}{
		{"--nitrite", c.Nitrite, quantity.Strength, &o.Mix.Nitrite}, {"--nitrate", c.Nitrate, quantity.Strength, &o.Mix.Nitrate},
		{"--salt", c.Salt, quantity.Strength, &o.Mix.Salt}, {"--sugar", c.Sugar, quantity.Strength, &o.Mix.Sugar},
		{"--ppm", c.PPM, quantity.PPM, &o.PPM}, {"--cap", c.Cap, quantity.PPM, &o.CapPPM},
		{"--salt-target", c.SaltTarget, quantity.Part, &o.SaltPart}, {"--meat-water", c.MeatWater, quantity.Part, &o.MeatWater},
		{"--brine", c.Brine, parseDoseWeight, &o.BrineG}, {"--pickle", c.Pickle, parseDoseWeight, &o.PickleG}, {"--pump", c.Pump, quantity.Part, &o.Pump},
	} {
		if f.text == "" {
			continue
		}
		if *f.into, err = f.parse(f.text); err != nil {
			return o, quantity.Within(f.flag, f.text, err)
		}
		if *f.into == 0 && (f.flag == "--ppm" || f.flag == "--cap") {
			return o, misuse(f.flag+" 120, or without "+f.flag, "%s %s asks nothing", f.flag, f.text)
		}
	}
	o.SaltKnown = c.Salt != ""
	return o, nil
}

// dosePieces reads name:green weight; a thickness behind it, as for a new batch, is
// taken and not needed.
func dosePieces(typed []string) ([]dosing.Lot, error) {
	var pieces []dosing.Lot
	for _, text := range typed {
		parts := strings.Split(text, ":")
		name := strings.TrimSpace(parts[0])
		if len(parts) < 2 || len(parts) > 3 || name == "" {
			return nil, misuse("--piece A:2268g", "--piece %s: want name and green weight with a colon between", text)
		}
		green, err := parseDoseWeight(parts[1])
		if err != nil {
			return nil, corrected(text, parts, 1, err)
		}
		if len(parts) == 3 {
			if _, err := quantity.Length(parts[2]); err != nil {
				return nil, corrected(text, parts, 2, err)
			}
		}
		for _, p := range pieces {
			if p.Name == name {
				return nil, misuse("another letter", "--piece %s: there is already a piece %s", text, name)
			}
		}
		pieces = append(pieces, dosing.Lot{Name: name, GreenG: green})
	}
	return pieces, nil
}

// lotsOf puts what was weighed to its slab.
func lotsOf(o dosing.Order, weighed []string) ([]dosing.Lot, error) {
	lots := o.Together()
	for _, text := range weighed {
		name, weight, named := strings.Cut(text, ":")
		if !named {
			name, weight = "", text
		}
		if !named && len(lots) == 1 {
			name = lots[0].Name
		}
		g, err := parseDoseWeight(weight)
		if err != nil {
			return nil, quantity.Within("--cure", text, err)
		}
		if err := put(lots, name, g); err != nil {
			return nil, quantity.Within("--cure", text, err)
		}
	}
	return lots, nil
}

func put(lots []dosing.Lot, name string, g float64) error {
	var names []string
	for i := range lots {
		names = append(names, lots[i].Name)
		if lots[i].Name != name {
			continue
		}
		if lots[i].WeighedG != 0 {
			return misuse("one --cure for each slab", "%s was weighed already", name)
		}
		lots[i].WeighedG = g
		return nil
	}
	return misuse("--cure "+names[0]+":4.4g", "which slab? there are %s", strings.Join(names, ", "))
}

package main

import (
	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

// packetFlags say what is in the curing salt, how much is asked, and by whose limits.
type packetFlags struct {
	PPM     string `name:"ppm" help:"Ingoing nitrite asked." placeholder:"156"`
	Nitrite string `help:"Nitrite in the curing salt, as YOUR packet says." placeholder:"6.25%"`
	Nitrate string `help:"Nitrate in the curing salt, if the packet names it." placeholder:"4%"`
	Rule    string `help:"Whose limits: us, canada, fda-home or none." enum:"us,canada,fda-home,none," default:"" placeholder:"RULE"`
	Method  string `help:"How it gets in: dry, bag, immersion, pumped or comminuted; the plan's when left out." enum:"dry,bag,immersion,pumped,comminuted," default:"" placeholder:"METHOD"`
	Product string `help:"bacon, or meat for anything else; the plan's when left out." enum:"bacon,meat," default:"" placeholder:"PRODUCT"`
	Brine   string `help:"Immersion: water of the brine." placeholder:"1.5kg"`
	Pickle  string `help:"Pumped: the pickle, all in." placeholder:"5kg"`
	Pump    string `help:"Pumped: pickle that goes in, part of green weight." placeholder:"10%"`
}

// read puts what was said into a dose; what was not is left as it is.
func (c packetFlags) read(d *process.Dosing) error {
	if c.Rule != "" {
		d.Rule = c.Rule
	}
	if c.Method != "" {
		d.Method = string(dosing.Methods[c.Method])
	}
	if c.Product != "" {
		d.Product = c.Product
	}
	for _, f := range []struct {
		flag, text string
		parse      func(string) (float64, error)
		into       *float64
	}{
		{"--nitrite", c.Nitrite, quantity.Strength, &d.Nitrite}, {"--nitrate", c.Nitrate, quantity.Strength, &d.Nitrate}, {"--ppm", c.PPM, quantity.PPM, &d.PPM},
		{"--brine", c.Brine, parseDoseWeight, &d.WaterG}, {"--pickle", c.Pickle, parseDoseWeight, &d.PickleG}, {"--pump", c.Pump, quantity.Part, &d.Uptake},
	} {
		if f.text == "" {
			continue
		}
		var err error
		if *f.into, err = f.parse(f.text); err != nil {
			return quantity.Within(f.flag, f.text, err)
		}
	}
	return nil
}

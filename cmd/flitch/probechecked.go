package main

import (
	"cmp"
	"strings"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/heat"
)

type probeCheckedCommand struct {
	Probe string `arg:"" help:"Name of the probe, as in flitch probe list."`
	orderFlags
	Ice      string `help:"What it read in crushed ice and water, stirred." placeholder:"0.3C"`
	Boiling  string `help:"What it read in boiling water; with --altitude." placeholder:"98.6C"`
	Altitude string `help:"Where the water boiled, above the sea." placeholder:"520m"`
	Reads    string `help:"What it read beside a thermometer that you trust; with --against." placeholder:"61.9C"`
	Against  string `help:"What that thermometer read." placeholder:"61.0C"`
	Text     string `help:"Adjusted, taken out of use, replaced, or anything else." placeholder:"TEXT"`
}

// Help shows examples.
func (probeCheckedCommand) Help() string {
	return "Within 2 °F (1.1 K) it passes. One that fails is out of use until it passes, and what it measured since its last good check is in doubt." +
		"\n\nExample:\n\n    flitch probe checked alder-bottle --ice 32.5F --by T.V." +
		"\n    flitch probe checked core-1 --boiling 98.6C --altitude 520m --by T.V." +
		"\n    flitch probe checked core-1 --reads 61.9C --against 61.0C --by T.V. --text \"beside the reference needle\""
}

// Run sends the check, and says what is in doubt when it failed.
func (c probeCheckedCommand) Run(t terminal) error {
	said, err := c.said()
	if err != nil {
		return err
	}
	if err := c.send(t, order{Kind: process.CommandChecked, Check: said, Text: strings.TrimSpace(c.Text)}); err != nil {
		return err
	}
	if said.Good() {
		return nil
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	var probes []api.Probe
	if err := daemon.get("/api/probes", &probes); err != nil {
		return err
	}
	return complainOfProbe(*said, probes)
}

// complainOfProbe is the error of a failed check: what is in doubt, and what to do.
func complainOfProbe(said process.CheckSaid, probes []api.Probe) error {
	good, batches := "none", "none"
	for _, p := range probes {
		if p.Probe != said.Probe {
			continue
		}
		if p.LastGood != nil {
			good = p.LastGood.At.Format("2006-01-02") + " by " + p.LastGood.By
		}
		batches = cmp.Or(strings.Join(p.Batches, ", "), batches)
	}
	return problem("adjust it and check again, or take it out; review each batch: flitch record BATCH --format html --out BATCH.html",
		"%s %s; last good check: %s; batches since: %s", said.Probe, said.Words(), good, batches)
}

func (c probeCheckedCommand) said() (*process.CheckSaid, error) {
	said := &process.CheckSaid{Probe: c.Probe}
	switch {
	case c.Ice != "" && c.Boiling == "" && c.Reads == "":
		said.Method = process.CheckIce
		return said, temperatures(flagged{"--ice", c.Ice, &said.ReadC})
	case c.Boiling != "" && c.Ice == "" && c.Reads == "":
		said.Method = process.CheckBoiling
		if err := temperatures(flagged{"--boiling", c.Boiling, &said.ReadC}); err != nil {
			return nil, err
		}
		return said, c.boils(&said.TrueC)
	case c.Reads != "" && c.Against != "" && c.Ice == "" && c.Boiling == "":
		said.Method = process.CheckCompare
		return said, temperatures(flagged{"--reads", c.Reads, &said.ReadC}, flagged{"--against", c.Against, &said.TrueC})
	}
	return nil, misuse("--ice 0.3C", "say one thing: --ice, --boiling with --altitude, or --reads with --against")
}

// A flagged is a temperature typed behind a flag.
type flagged struct {
	flag, text string
	into       *float64
}

func temperatures(list ...flagged) (err error) {
	for _, f := range list {
		if *f.into, err = parseTemperature(f.text); err != nil {
			return within(f.flag, f.text, err)
		}
	}
	return nil
}

// boils is where water boils at the altitude, °C. The weather moves it by up to 0.9 K.
func (c probeCheckedCommand) boils(into *float64) error {
	if c.Altitude == "" {
		return misuse("--altitude 520m", "where water boils depends on the altitude")
	}
	metres, err := measure(c.Altitude, "an altitude", "520m", []factor{{"m", 1}, {"ft", 0.3048}}, true)
	if err != nil {
		return within("--altitude", c.Altitude, err)
	}
	pa, known := heat.PressureAt(metres)
	boils, ok := heat.BoilingPoint(pa)
	if !known || !ok {
		return misuse("--altitude 520m", "--altitude %s: water has no boiling point there", c.Altitude)
	}
	*into = thousandths(boils)
	return nil
}

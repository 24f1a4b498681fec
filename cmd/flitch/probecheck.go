package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
	"flitch/process/heat"
)

type probeCheckCommand struct {
	Probe string `arg:"" help:"Name of the probe, as in flitch probe list."`
	orderFlags
	Ice      string `help:"What it read in crushed ice and water, stirred." placeholder:"0.3C"`
	Boiling  string `help:"What it read in boiling water; with --pressure or --altitude." placeholder:"98.6C"`
	Pressure string `help:"Of the air where the water boiled: at the station, not reduced to sea level as forecasts are." placeholder:"954hPa"`
	Altitude string `help:"Without a barometer: above the sea. The weather moves boiling water by up to 0.9 K." placeholder:"520m"`
	Reads    string `help:"What it read beside a thermometer that you trust; with --against." placeholder:"61.9C"`
	Against  string `help:"What that thermometer read." placeholder:"61.0C"`
	Correct  bool   `help:"Correct what it reads from now on."`
	Replaced bool   `help:"Another probe hangs there now: the correction of the old one is forgotten."`
	AsSent   bool   `help:"The numbers are of the sensor's own display, without the correction in force."`
	Text     string `help:"Adjusted, taken out of use, replaced, or anything else." placeholder:"TEXT"`
}

// Help shows examples.
func (probeCheckCommand) Help() string {
	return "Type what flitch shows for the probe (flitch probe list, the page). Within 2 °F (1.1 K) it passes. One that fails is out of use until it passes: what it reads is kept and counts for nothing, and what it measured since its last good check is in doubt." +
		"\n\nWith --correct one point moves the offset; ice and boiling water together make offset and gain; a third point, beside a thermometer, says how uncertain it is then. A probe that needs a gain outside 0.97 to 1.03, or sends more than 2 K off in ice, is not corrected but replaced." +
		"\n\nExample:\n\n    flitch probe check alder-bottle --ice 32.5F --by T.V." +
		"\n    flitch probe check core-1 --ice 0.4C --boiling 97.9C --pressure 954hPa --reads 61.9C --against 61.6C --correct --by T.V." +
		"\n    flitch probe check core-1 --reads 61.9C --against 61.0C --by T.V. --text \"beside the reference needle\""
}

// Run sends the check, and says what it came to and what is in doubt.
func (c probeCheckCommand) Run(t terminal) error {
	said, err := c.said()
	if err != nil {
		return err
	}
	text := strings.TrimSpace(c.Text)
	if c.Altitude != "" { // a barometer would know the weather of the day too
		text = strings.TrimSuffix("pressure of standard air at "+c.Altitude+"; "+text, "; ")
	}
	if err := c.send(t, order{Kind: process.CommandChecked, Check: said, Text: text}); err != nil {
		return err
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	probe, err := daemon.probe(c.Probe)
	if err != nil {
		return err
	}
	if len(probe.Checks) == 0 {
		return daemon.strange("a probe without the check that was just taken")
	}
	newest := slices.MaxFunc(probe.Checks, func(a, b process.ProbeCheck) int { return a.Typed.Compare(b.Typed) })
	return answerCheck(t, newest, probe)
}

// answerCheck prints what the check came to. The error is of one that failed: what is
// in doubt, and what to do.
func answerCheck(t terminal, k process.ProbeCheck, p api.Probe) error {
	good, batches := "none", "none"
	for _, before := range p.Checks {
		if before.Good() && before.At.Before(k.At) {
			good = before.At.Format("2006-01-02") + " by " + before.By
		}
	}
	if k.Result != nil {
		batches = cmp.Or(strings.Join(k.Result.Batches, ", "), batches)
	}
	text := fmt.Sprintf("%s %s; last good check: %s; batches since: %s", k.Probe, k.Words(), good, batches)
	if !k.Good() {
		again := "correct it with --correct, or replace it,"
		if k.Result != nil && k.Result.Fails == process.FailsReplace {
			again = "replace it, say --replaced,"
		}
		return problem(again+" and check again; review each batch: flitch record BATCH --format html --out BATCH.html", "%s", text)
	}
	if !k.FoundOff() {
		text = k.Probe + " " + k.Words()
	}
	_, err := fmt.Fprintln(t.out, text)
	return err
}

func (c probeCheckCommand) said() (*process.CheckSaid, error) {
	points, err := c.points()
	if err != nil {
		return nil, err
	}
	first := points[0]
	return &process.CheckSaid{Probe: c.Probe, Method: first.Method, ReadC: first.ReadC, TrueC: first.TrueC, PressurePa: first.PressurePa,
		Further: points[1:], Correct: c.Correct, Replaced: c.Replaced, AsSent: c.AsSent}, nil
}

// points are what was typed, in the order ice, boiling water, thermometer.
func (c probeCheckCommand) points() (list []process.CheckPoint, err error) {
	switch {
	case c.Ice == "" && c.Boiling == "" && c.Reads == "" && c.Against == "":
		return nil, misuse("--ice 0.3C", "say what it read: --ice, --boiling with --pressure or --altitude, or --reads with --against")
	case (c.Reads == "") != (c.Against == ""):
		return nil, misuse("--reads 61.9C --against 61.0C", "--reads and --against go together")
	case c.Boiling == "" && (c.Pressure != "" || c.Altitude != ""):
		return nil, misuse("--boiling 98.6C", "a pressure or an altitude is of boiling water")
	}
	if c.Ice != "" {
		p := process.CheckPoint{Method: process.CheckIce}
		if err := temperatures(flagged{"--ice", c.Ice, &p.ReadC}); err != nil {
			return nil, err
		}
		list = append(list, p)
	}
	if c.Boiling != "" {
		p := process.CheckPoint{Method: process.CheckBoiling}
		if err := temperatures(flagged{"--boiling", c.Boiling, &p.ReadC}); err != nil {
			return nil, err
		}
		if p.PressurePa, err = c.air(); err != nil {
			return nil, err
		}
		boils, _ := heat.BoilingPoint(p.PressurePa)
		p.TrueC = quantity.Thousandths(boils)
		list = append(list, p)
	}
	if c.Reads != "" {
		p := process.CheckPoint{Method: process.CheckCompare}
		if err := temperatures(flagged{"--reads", c.Reads, &p.ReadC}, flagged{"--against", c.Against, &p.TrueC}); err != nil {
			return nil, err
		}
		list = append(list, p)
	}
	return list, nil
}

// A flagged is a temperature typed behind a flag.
type flagged struct {
	flag, text string
	into       *float64
}

func temperatures(list ...flagged) (err error) {
	for _, f := range list {
		if *f.into, err = quantity.Temperature(f.text); err != nil {
			return quantity.Within(f.flag, f.text, err)
		}
	}
	return nil
}

// air is the pressure that the water boiled at, Pa.
func (c probeCheckCommand) air() (pa float64, err error) {
	switch {
	case c.Pressure != "" && c.Altitude != "":
		return 0, misuse("--pressure 954hPa", "say the pressure or the altitude, not both")
	case c.Pressure != "":
		if pa, err = quantity.Measure(c.Pressure, "a pressure", "954hPa", []quantity.Factor{{Unit: "hPa", Of: 100}, {Unit: "mbar", Of: 100}, {Unit: "kPa", Of: 1000}, {Unit: "inHg", Of: 3386.389}, {Unit: "Pa", Of: 1}}, true); err != nil {
			return 0, quantity.Within("--pressure", c.Pressure, err)
		}
		return quantity.Thousandths(pa), nil
	case c.Altitude == "":
		return 0, misuse("--pressure 954hPa or --altitude 520m", "where water boils depends on the pressure of the air")
	}
	metres, err := quantity.Measure(c.Altitude, "an altitude", "520m", []quantity.Factor{{Unit: "m", Of: 1}, {Unit: "ft", Of: 0.3048}}, false)
	if err != nil {
		return 0, quantity.Within("--altitude", c.Altitude, err)
	}
	pa, known := heat.PressureAt(metres)
	if _, ok := heat.BoilingPoint(pa); !known || !ok {
		return 0, misuse("--altitude 520m", "--altitude %s: water has no boiling point there", c.Altitude)
	}
	return quantity.Thousandths(pa), nil
}

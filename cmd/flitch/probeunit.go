package main

import (
	"strings"

	"flitch/process"
)

type probeUnitCommand struct {
	Probe string `arg:"" help:"Name of the probe, as in flitch probe list."`
	Unit  string `arg:"" help:"What the sensor sends now: F or C."`
	orderFlags
	Text string `help:"What happened, in your words." placeholder:"TEXT"`
}

// Help shows examples.
func (probeUnitCommand) Help() string {
	return "When what a fridge probe reads steps to just what another unit would show, flitch asks and guesses nothing: none of its readings count until somebody answers here, or the sensor is turned back. " +
		"It counts from the step, or from the time you name. F: it was turned over; its readings are taken as °F from then on, those that came meanwhile too. C: it was not; they stand as they came." +
		"\n\nExample:\n\n    flitch probe unit alder-slow F --by T.V." +
		"\n    flitch probe unit alder-slow F --at 17:00 --by T.V. --text \"the child turned it over\""
}

// Run sends the answer.
func (c probeUnitCommand) Run(t terminal) error {
	said := &process.UnitSaid{Probe: c.Probe, Unit: strings.ToUpper(strings.TrimPrefix(strings.TrimSpace(c.Unit), "°"))}
	if said.Unit != "F" && said.Unit != "C" {
		return misuse("flitch probe unit "+c.Probe+" F", "%q is no unit of temperature: say F or C", c.Unit)
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	if said.From, err = parseMoment(c.At, t.now(), daemon.zone); err != nil {
		return err
	}
	return c.send(t, order{Kind: process.CommandUnit, Unit: said, Text: strings.TrimSpace(c.Text)})
}

package main

import (
	"slices"
	"strings"

	"flitch/process"
)

type batchReadingCommand struct {
	batchName
	orderFlags
	Placement string `help:"What was measured: core, chamber, product, air, wet-bulb or ambient." required:"" placeholder:"WORD"`
	Value     string `help:"The temperature, with its unit." required:"" placeholder:"61.5C"`
	Piece     string `help:"The slab a core was read in." placeholder:"NAME"`
	Text      string `help:"With which thermometer, or anything else." placeholder:"TEXT"`
}

// Help shows an example.
func (batchReadingCommand) Help() string {
	return "Example:\n\n    flitch batch reading OL-31-04 --placement core --piece A --value 142F --by T.V."
}

// Run sends the reading in °C.
func (c batchReadingCommand) Run(t terminal) error {
	placement, err := parsePlacement(c.Placement)
	if err != nil {
		return err
	}
	celsius, err := parseTemperature(c.Value)
	if err != nil {
		return within("--value", c.Value, err)
	}
	o := order{Kind: process.CommandReading, Batch: c.Batch, Placement: placement, Value: &celsius, Text: c.Text}
	if c.Piece != "" {
		o.Pieces = []string{c.Piece}
	}
	return c.send(t, o)
}

func parsePlacement(text string) (process.Placement, error) {
	all := process.Placements()
	all = slices.DeleteFunc(all, func(p process.Placement) bool { return !p.IsTemperature() })
	if slices.Contains(all, process.Placement(text)) {
		return process.Placement(text), nil
	}
	var words []string
	for _, p := range all {
		words = append(words, string(p))
	}
	return "", misuse("one of "+strings.Join(words, ", "), "--placement %s: not something a thermometer is held to", text)
}

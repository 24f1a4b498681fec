package main

import (
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

type batchReadingCommand struct {
	batchName
	orderFlags
	insteadFlags
	Placement string `help:"What was measured: core, chamber, product, air, wet-bulb or ambient, or ph." required:"" placeholder:"WORD"`
	Value     string `help:"The temperature, with its unit; a pH without one." required:"" placeholder:"61.5C"`
	Piece     string `help:"The slab a core was read in." placeholder:"NAME"`
	With      string `help:"With which instrument, by its name or number." placeholder:"NAME"`
	Text      string `help:"Anything else." placeholder:"TEXT"`
}

// Help shows an example.
func (batchReadingCommand) Help() string {
	return "Example:\n\n    flitch batch reading OL-31-04 --placement core --piece A --value 142F --with \"needle 2\" --by T.V."
}

// Run sends the reading in °C.
func (c batchReadingCommand) Run(t terminal) error {
	placement, err := parsePlacement(c.Placement)
	if err != nil {
		return err
	}
	value, err := parseReading(placement, c.Value)
	if err != nil {
		return quantity.Within("--value", c.Value, err)
	}
	o := order{Kind: process.CommandReading, Batch: c.Batch, Placement: placement, Value: &value, Text: c.said()}
	if c.Piece != "" {
		o.Pieces = []string{c.Piece}
	}
	return c.send(t, c.instead(o))
}

// said is the instrument, and what else there is to say.
func (c batchReadingCommand) said() string {
	with, text := strings.TrimSpace(c.With), strings.TrimSpace(c.Text)
	switch {
	case with == "":
		return text
	case text == "":
		return "with " + with
	}
	return "with " + with + "; " + text
}

// parseReading reads a temperature in °C, or a pH.
func parseReading(p process.Placement, text string) (float64, error) {
	if p != process.PH {
		return quantity.Temperature(text)
	}
	ph, ok := plain.Number(strings.Replace(text, ",", ".", 1))
	if !ok {
		return 0, misuse("5.2", "%q is not a pH", text)
	}
	return ph, nil
}

func parsePlacement(text string) (process.Placement, error) {
	all := process.Placements()
	all = append(slices.DeleteFunc(all, func(p process.Placement) bool { return !p.IsTemperature() }), process.PH)
	if slices.Contains(all, process.Placement(text)) {
		return process.Placement(text), nil
	}
	var words []string
	for _, p := range all {
		words = append(words, string(p))
	}
	return "", misuse("one of "+strings.Join(words, ", "), "--placement %s: not something that is measured by hand", text)
}

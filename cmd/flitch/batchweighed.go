package main

import (
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

type batchWeighedCommand struct {
	batchName
	orderFlags
	insteadFlags
	Piece  string `help:"Which slab; may be left out when there is only one." placeholder:"NAME"`
	Weight string `help:"What it weighs now, with its unit." required:"" placeholder:"1890g"`
	Text   string `help:"On which scale, or anything else." placeholder:"TEXT"`
}

// Help shows an example.
func (batchWeighedCommand) Help() string {
	return "Drying is judged by weight: weigh when it begins, and every few days.\n\nExample:\n\n    flitch batch weighed OL-31-04 --piece A --weight 1890g --by T.V."
}

// Run sends the weighing in g.
func (c batchWeighedCommand) Run(t terminal) error {
	grams, err := quantity.Weight(c.Weight)
	if err != nil {
		return quantity.Within("--weight", c.Weight, err)
	}
	o := order{Kind: process.CommandWeighed, Batch: c.Batch, Value: &grams, Text: c.Text}
	if c.Piece != "" {
		o.Pieces = []string{c.Piece}
	}
	return c.send(t, c.instead(o))
}

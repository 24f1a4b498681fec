package main

import (
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

type batchWeighedCommand struct {
	batchName
	orderFlags
	insteadFlags
	Piece  string   `help:"Which slab; may be left out when there is only one." placeholder:"NAME"`
	Weight string   `help:"What it weighs now, with its unit." placeholder:"1890g"`
	Slab   []string `help:"Several at once: slab:weight. Once for each; all:weight is all of them together." sep:"none" placeholder:"A:1890g"`
	Step   string   `help:"Step of the yield: after-trim, after-cure, after-smoke, sliced, ends or rind." placeholder:"STEP"`
	Text   string   `help:"On which scale, or anything else." placeholder:"TEXT"`
}

// Help shows examples.
func (batchWeighedCommand) Help() string {
	return "Drying is judged by weight: weigh when it begins, and every few days. With a step it is the yield.\n\nExample:\n\n    flitch batch weighed OL-31-04 --piece A --weight 1890g --by T.V." +
		"\n    flitch batch weighed OL-31-04 --step after-smoke --slab A:1890g --slab B:4.2lb --by T.V." +
		"\n    flitch batch weighed OL-31-04 --step sliced --slab all:3.2kg --by T.V."
}

// Run sends the weighing in g.
func (c batchWeighedCommand) Run(t terminal) error {
	o := order{Kind: process.CommandWeighed, Batch: c.Batch, Text: c.Text, Rung: process.Rung(c.Step)}
	switch {
	case c.Step != "" && !slices.Contains(process.Ladder(), o.Rung):
		return misuse("after-trim, after-cure, after-smoke, sliced, ends or rind", "--step %s: no such step", c.Step)
	case (c.Weight == "") == (len(c.Slab) == 0):
		return misuse("--piece A --weight 1890g, or --slab A:1890g for each", "nothing was weighed, or twice")
	case c.Weight == "":
		var err error
		if o.Weights, err = parseSlabs(c.Slab); err != nil {
			return err
		}
		return c.send(t, o)
	}
	grams, err := quantity.Weight(c.Weight)
	if err != nil {
		return quantity.Within("--weight", c.Weight, err)
	}
	o.Value = &grams
	if c.Piece != "" {
		o.Pieces = []string{c.Piece}
	}
	return c.send(t, c.instead(o))
}

// parseSlabs reads A:1890g, and all:3.2kg for all together.
func parseSlabs(typed []string) (list []process.PieceWeight, err error) {
	for _, text := range typed {
		name, weight, ok := strings.Cut(text, ":")
		if !ok || strings.TrimSpace(name) == "" {
			return nil, misuse("--slab A:1890g", "--slab %s: want the slab and the weight with a colon between", text)
		}
		w := process.PieceWeight{Piece: strings.TrimSpace(name)}
		if w.Grams, err = quantity.Weight(weight); err != nil {
			return nil, quantity.Within("--slab", text, err)
		}
		if w.Piece == "all" {
			w.Piece = ""
		}
		list = append(list, w)
	}
	return list, nil
}

package main

import (
	"math"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
)

type batchCountedCommand struct {
	batchName
	orderFlags
	insteadFlags
	Pieces string `help:"How many there are." required:"" placeholder:"7"`
	In     string `help:"Counted into this stage." placeholder:"STAGE"`
	Out    string `help:"Counted out of this stage." placeholder:"STAGE"`
}

// Help shows an example.
func (batchCountedCommand) Help() string {
	return "Count the slabs when they come out of the smoker and when they are cold: one that is left behind is found tonight.\n\nExample:\n\n    flitch batch counted OL-31-04 --pieces 7 --by T.V.\n    flitch batch counted OL-31-04 --pieces 7 --out smoke --by T.V."
}

// Run sends the count.
func (c batchCountedCommand) Run(t terminal) error {
	n, ok := plain.Number(c.Pieces)
	if !ok || n != math.Trunc(n) {
		return misuse("--pieces 7", "--pieces %s: not a whole number", c.Pieces)
	}
	o := order{Kind: process.CommandCounted, Batch: c.Batch, Value: &n}
	switch {
	case c.In != "" && c.Out != "":
		return misuse("one count for each side", "--in %s and --out %s: which of them?", c.In, c.Out)
	case c.In != "":
		o.Way, o.Stage = process.WayIn, process.StageName(c.In)
	case c.Out != "":
		o.Way, o.Stage = process.WayOut, process.StageName(c.Out)
	}
	return c.send(t, c.instead(o))
}

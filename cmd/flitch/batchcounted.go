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
}

// Help shows an example.
func (batchCountedCommand) Help() string {
	return "Count the slabs when they come out of the smoker and when they are cold: one that is left behind is found tonight.\n\nExample:\n\n    flitch batch counted OL-31-04 --pieces 7 --by T.V."
}

// Run sends the count.
func (c batchCountedCommand) Run(t terminal) error {
	n, ok := plain.Number(c.Pieces)
	if !ok || n != math.Trunc(n) {
		return misuse("--pieces 7", "--pieces %s: not a whole number", c.Pieces)
	}
	return c.send(t, c.instead(order{Kind: process.CommandCounted, Batch: c.Batch, Value: &n}))
}

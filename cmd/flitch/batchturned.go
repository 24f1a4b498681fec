package main

import "flitch/process"

type batchTurnedCommand struct {
	batchName
	orderFlags
	insteadFlags
	Piece []string `help:"Which slab; all of them when left out." sep:"none" placeholder:"NAME"`
}

// Help shows an example.
func (batchTurnedCommand) Help() string {
	return "Example:\n\n    flitch batch turned OL-31-04 --piece B --piece C --by T.V."
}

// Run sends the turn.
func (c batchTurnedCommand) Run(t terminal) error {
	return c.send(t, c.instead(order{Kind: process.CommandTurned, Batch: c.Batch, Pieces: c.Piece}))
}

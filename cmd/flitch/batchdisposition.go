package main

import (
	"strings"

	"flitch/process"
)

type batchDispositionCommand struct {
	batchName
	orderFlags
	What   string   `arg:"" help:"\"continue and finish\", \"hold for advice\", \"release from hold\", rework or discard."`
	Piece  []string `help:"Only this slab; may be given again. All when left out." placeholder:"NAME"`
	Reason string   `help:"On the basis of what it was decided." required:"" placeholder:"TEXT"`
}

// Help shows an example.
func (batchDispositionCommand) Help() string {
	return "Example:\n\n    flitch batch disposition OL-31-04 \"hold for advice\" --reason \"3 h above 40 F, the extension was asked\" --by T.V." +
		"\n\nA batch with a limit that was not met is held until a disposition ends that, and is closed only after one. What was decided holds for the numbers of then."
}

// Run sends the disposition.
func (c batchDispositionCommand) Run(t terminal) error {
	return c.send(t, order{Kind: process.CommandDisposition, Batch: c.Batch, Disposition: process.Disposition(strings.TrimSpace(c.What)), Pieces: c.Piece, Text: strings.TrimSpace(c.Reason)})
}

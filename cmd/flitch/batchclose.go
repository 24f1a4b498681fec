package main

import "flitch/process"

type batchCloseCommand struct {
	batchName
	orderFlags
	Text string `help:"Why, when it ends before the plan does." placeholder:"TEXT"`
}

// Help shows an example.
func (batchCloseCommand) Help() string {
	return "Example:\n\n    flitch batch close OL-31-04 --by T.V."
}

// Run sends the end of the batch.
func (c batchCloseCommand) Run(t terminal) error {
	return c.send(t, order{Kind: process.CommandClose, Batch: c.Batch, Text: c.Text})
}

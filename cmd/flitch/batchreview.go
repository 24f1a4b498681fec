package main

import (
	"strings"

	"flitch/process"
)

type batchReviewCommand struct {
	batchName
	orderFlags
	Text string `help:"What there is to say of it; most say nothing. What was asked about is a note." placeholder:"TEXT"`
}

// Help shows an example.
func (batchReviewCommand) Help() string {
	return "Example:\n\n    flitch batch review OL-31-04 --by M.O.\n\nWith two or more persons in the configuration it is somebody else than who began the batch or wrote a corrective action of it."
}

// Run sends the review.
func (c batchReviewCommand) Run(t terminal) error {
	return c.send(t, order{Kind: process.CommandReviewed, Batch: c.Batch, Text: strings.TrimSpace(c.Text)})
}

package main

import (
	"strings"

	"flitch/process"
)

type batchStageCommand struct {
	batchName
	Stage string `arg:"" help:"The stage it enters, as the plan calls it."`
	orderFlags
	insteadFlags
	Text string `help:"Why it goes on all the same, when a dose of cure is not in order." placeholder:"TEXT"`
}

// Help shows an example.
func (batchStageCommand) Help() string {
	return "Example:\n\n    flitch batch stage OL-31-04 smoke --by T.V. --at 21:40\n    flitch batch stage OL-31-04 smoke --by T.V. --at 21:10 --instead-of K7QD --why \"pressed late\""
}

// Run leaves it to the daemon which stage may follow: it knows the plan.
func (c batchStageCommand) Run(t terminal) error {
	return c.send(t, c.instead(order{Kind: process.CommandStage, Batch: c.Batch, Stage: process.StageName(c.Stage), Text: strings.TrimSpace(c.Text)}))
}

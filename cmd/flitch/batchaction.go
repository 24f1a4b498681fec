package main

import (
	"errors"
	"fmt"
	"strings"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
)

type batchActionCommand struct {
	batchName
	orderFlags
	About      string `help:"What it is about: a line of the catalogue (C2), the number of an alarm, a clock (out-of-cold), \"dose of A\", or a slab." required:"" placeholder:"WHAT"`
	Cause      string `help:"The cause, and that it is removed." placeholder:"TEXT"`
	Control    string `help:"How it is under control again." placeholder:"TEXT"`
	Prevention string `help:"What keeps it from coming again." placeholder:"TEXT"`
	Product    string `help:"What becomes of the product." placeholder:"TEXT"`
	Ready      bool   `help:"Print the ready text with what the log knows, to edit, and enter nothing."`
}

// Help shows an example.
func (batchActionCommand) Help() string {
	return "Example:\n\n    flitch batch action OL-31-04 --about C2 --cause \"bag corner in the door seal\" --control \"moved to Birch at 07:10\" --prevention \"door looked at at close of day\" --product \"held for advice\" --by T.V." +
		"\n\nA part that is left out may follow in another one; until then the deviation stays open. --ready prints the ready text."
}

// Run sends the action, or prints the ready text.
func (c batchActionCommand) Run(t terminal) error {
	if c.Ready {
		return c.print(t)
	}
	said := process.ActionSaid{About: strings.TrimSpace(c.About), Cause: strings.TrimSpace(c.Cause), Control: strings.TrimSpace(c.Control),
		Prevention: strings.TrimSpace(c.Prevention), Product: strings.TrimSpace(c.Product)}
	return c.send(t, order{Kind: process.CommandAction, Batch: c.Batch, Action: &said})
}

// print shows the ready text as the arguments that enter it.
func (c batchActionCommand) print(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	path, err := c.path("/api/batches/")
	if err != nil {
		return err
	}
	var said process.ActionSaid
	if err := daemon.get(api.ReadyPath(path, c.About), &said); err != nil {
		return err
	}
	if said.Cause+said.Control+said.Prevention+said.Product == "" {
		return problem("write it yourself: --cause, --control, --prevention, --product", "there is no ready text about %s", c.About)
	}
	var errs []error
	for i, p := range said.Parts() {
		_, err := fmt.Fprintf(t.out, "--%s %q\n", []string{"cause", "control", "prevention", "product"}[i], p.Text)
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

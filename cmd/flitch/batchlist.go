package main

import (
	"fmt"
	"text/tabwriter"
	"time"

	"flitch/cmd/flitch/internal/web"
)

type batchListCommand struct {
	daemonFlags
}

// Help shows an example.
func (batchListCommand) Help() string { return "Example:\n\n    flitch batch list" }

// Run prints one line for each batch, as the daemon orders them.
func (c batchListCommand) Run(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	var batches []web.Summary
	if err := daemon.get("/api/batches", &batches); err != nil {
		return err
	}
	if len(batches) == 0 {
		fmt.Fprintln(t.out, "no batch yet; start one: flitch batch new --help")
		return nil
	}
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "BATCH\tPRODUCT\tSTARTED\tSTAGE")
	for _, b := range batches {
		stage := string(b.Stage)
		if !b.Closed.IsZero() {
			stage = "closed " + daemon.clock(b.Closed)
		}
		if len(b.Held) > 0 {
			stage += ", held"
		}
		if b.Waits {
			stage += ", waits for review"
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", shown(b.ID), shown(b.Product), daemon.clock(b.Started), stage)
	}
	return table.Flush()
}

// clock prints a moment for people, with the offset: the same wall clock comes
// twice in an autumn night.
func (d *daemon) clock(at time.Time) string {
	if at.IsZero() {
		return "-"
	}
	return at.In(d.zone).Format("2006-01-02 15:04 -07:00")
}

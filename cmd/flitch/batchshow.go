package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/record"
)

type batchShowCommand struct {
	batchName
	daemonFlags
}

// Help shows an example.
func (batchShowCommand) Help() string { return "Example:\n\n    flitch batch show OL-31-04" }

// Run prints the batch.
func (c batchShowCommand) Run(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	batch, err := c.fetch(daemon)
	if err != nil {
		return err
	}
	return daemon.show(t.out, batch)
}

func (d *daemon) show(out io.Writer, b api.Batch) error {
	product := b.Product
	if !strings.Contains(product, string(b.Class)) {
		product += ", " + string(b.Class) // most titles say it themselves
	}
	fmt.Fprintf(out, "batch %s: %s\n", shown(b.ID), shown(product))
	fmt.Fprintf(out, "plan %s version %d, started %s by %s\n", b.Plan.Name, b.Plan.Version, d.clock(b.Started), shown(b.By))
	if !b.Closed.IsZero() {
		fmt.Fprintf(out, "closed %s\n", d.clock(b.Closed))
	}
	if len(b.Held) > 0 {
		fmt.Fprintf(out, "held: %s\n", shown(strings.Join(b.Held, ", ")))
	}
	if b.Waits {
		fmt.Fprintln(out, "waits for review")
	}
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "\nPIECE\tGREEN\tTHICK")
	for _, p := range b.Pieces {
		fmt.Fprintf(table, "%s\t%.0f g\t%.0f mm\n", shown(p.Name), p.GreenG, p.ThicknessMM)
	}
	for i, e := range b.Doses {
		if i == 0 {
			fmt.Fprintln(table, "\nCURE ON\tWEIGHED\tASKED\tINGOING\tCHECK")
		}
		fmt.Fprintf(table, "%s\t%.1f g\t%.1f g\t%.0f ppm\t%s\n", shown(strings.Join(e.Pieces, "+")), e.CureG, e.AskedG, e.PPM, e.Answer())
	}
	fmt.Fprintln(table, "\nSTAGE\tENTERED\tLEFT\tBY")
	for _, s := range b.Stages {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", s.Name, d.clock(s.Entered), d.clock(s.Left), shown(s.By))
	}
	d.listEntries(table, b.Entries)
	fmt.Fprintln(table, "\nCLOCK\tSUM\tLIMIT\tVERDICT\tUNCERTAIN")
	for _, c := range b.Clocks {
		fmt.Fprintf(table, "%s\t%.2f %s\t%s\t%s\t%s\n", c.Name, c.Sum, c.Unit, limit(c), verdict(c), doubt(c))
	}
	for i, l := range b.LeftOut {
		if i == 0 {
			fmt.Fprintln(table, "\nLEFT OUT\tREADINGS\tWHY\tWHEN")
		}
		fmt.Fprintf(table, "%s\t%d\t%s\t%s\n", l.Probe, l.Count, record.Reason(l.Flagged), d.spans(l.Flagged))
	}
	if err := table.Flush(); err != nil || len(b.Alarms) == 0 {
		return err
	}
	fmt.Fprintln(out)
	return d.listAlarms(out, b.Alarms)
}

// maxSpans is how many times of one reason are printed; the record has more.
const maxSpans = 3

// spans are the first times, and how many more there were.
func (d *daemon) spans(f process.Flagged) string {
	var parts []string
	for i, s := range f.Spans {
		if i == maxSpans {
			break
		}
		part := d.clock(s.From)
		if s.To.After(s.From) {
			part += " to " + d.clock(s.To)
		}
		parts = append(parts, part)
	}
	if more := int64(len(f.Spans)-len(parts)) + f.More; more > 0 {
		parts = append(parts, fmt.Sprintf("%d more, the last %s", more, d.clock(f.Last)))
	}
	return strings.Join(parts, "; ")
}

func doubt(c process.Clock) string {
	if len(c.Uncertain) == 0 {
		return "-"
	}
	return strings.Join(c.Uncertain, "; ")
}

func limit(c process.Clock) string {
	way := "at most"
	if c.AtLeast {
		way = "at least"
	}
	return fmt.Sprintf("%s %g %s", way, c.Limit, c.Unit)
}

func verdict(c process.Clock) string {
	switch {
	case c.Verdict != process.Running:
		return string(c.Verdict)
	case c.Running:
		return "running"
	}
	return "-"
}

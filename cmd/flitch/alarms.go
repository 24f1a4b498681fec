package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/web"
	"flitch/process/record"
)

type alarmsCommand struct {
	daemonFlags
	All       bool `help:"Also those that are over."`
	Catalogue bool `help:"Every alarm there is, with its limits, delays and first action, as the catalogue has it."`
	Report    bool `help:"Count which rings were useful, false or late, for each line of the catalogue; reads the database."`
}

// Help shows an example.
func (alarmsCommand) Help() string { return "Example:\n\n    flitch alarms --all" }

// Run prints the alarms, as the daemon orders them.
func (c alarmsCommand) Run(t terminal) error {
	switch {
	case c.Report:
		return c.report(t)
	case c.Catalogue:
		return printCatalogue(t.out)
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	var alarms, shown []web.Alarm
	if err := daemon.get("/api/alarms", &alarms); err != nil {
		return err
	}
	for _, a := range alarms {
		if c.All || a.Active {
			shown = append(shown, a)
		}
	}
	switch {
	case len(alarms) == 0:
		_, err = fmt.Fprintln(t.out, "no alarm so far")
		return err
	case len(shown) == 0:
		_, err = fmt.Fprintln(t.out, "no alarm is standing; those that are over: flitch alarms --all")
		return err
	}
	return daemon.listAlarms(t.out, shown)
}

func (d *daemon) listAlarms(out io.Writer, alarms []web.Alarm) error {
	site := record.Site{Fahrenheit: d.fahrenheit}
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "ALARM\tLEVEL\tSINCE\tWHAT\tWHERE\tVALUE\tLIMIT\tWHO")
	for _, a := range alarms {
		who := "nobody yet"
		switch {
		case a.AcknowledgedBy != "":
			who = a.AcknowledgedBy
		case !a.Active:
			who = "over"
		}
		fmt.Fprintf(table, "%d\t%s\t%s\t%s %s\t%s\t%s\t%s\t%s\n", a.Number, a.LevelName, d.clock(a.Since),
			a.Entry, a.Title, shown(a.Subject), site.Quantity(a.Value, a.Unit), site.Quantity(a.Limit, a.Unit), shown(who))
		if a.Active && a.Action != "" {
			fmt.Fprintf(table, "\t\t\tfirst: %s\n", a.Action)
		}
		if a.Shelf != nil {
			fmt.Fprintf(table, "\t\t\t%s\n", shown(a.Shelf.Words(d.clock)))
		}
		if told := a.ToldWords(d.clock); told != "" {
			fmt.Fprintf(table, "\t\t\t%s\n", shown(told))
		}
	}
	return table.Flush()
}

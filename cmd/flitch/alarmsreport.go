package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"text/tabwriter"

	"flitch/alerts"
	"flitch/process/engine"
	"flitch/store"
)

// report counts what people said of rings, for each line of the catalogue. It reads
// the database itself, which a running daemon allows.
func (c alarmsCommand) report(t terminal) error {
	loaded, err := c.load()
	if err != nil {
		return err
	}
	db, err := store.OpenReadOnly(loaded.Site.Database)
	if err != nil {
		return err
	}
	defer db.Close()
	rows, err := db.Alarms()
	if err != nil {
		return err
	}
	judged, err := engine.Report(rows)
	if err != nil {
		return err
	}
	all, err := db.Occurrences(store.OccurrenceFilter{})
	if err != nil {
		return err
	}
	return printJudged(t.out, rungs(all), judged)
}

// rungs counts the alarms that came to a ring, for each entry.
func rungs(all []alerts.Occurrence) map[string]int {
	counts := map[string]int{}
	for _, o := range all {
		if o.Level == alerts.Ring {
			counts[o.Entry]++
		}
	}
	return counts
}

func printJudged(out io.Writer, rang map[string]int, judged map[string]map[string]int) error {
	entries := maps.Clone(rang)
	for entry := range judged {
		entries[entry] += 0
	}
	if len(entries) == 0 {
		_, err := fmt.Fprintln(out, "nothing has rung so far")
		return err
	}
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "ALARM\tRANG\tUSEFUL\tFALSE\tLATE\tNOT JUDGED")
	for _, entry := range slices.Sorted(maps.Keys(entries)) {
		words, said := judged[entry], 0
		for _, n := range words {
			said += n
		}
		fmt.Fprintf(table, "%s\t%d\t%d\t%d\t%d\t%d\n", entry, rang[entry], words["useful"], words["false"], words["late"], max(0, rang[entry]-said))
	}
	return table.Flush()
}

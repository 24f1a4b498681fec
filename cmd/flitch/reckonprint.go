package main

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/reckon"
)

func printResult(out io.Writer, r reckon.Result) {
	text := r.Text
	if r.Value != nil {
		text = fmt.Sprintf("%.5g %s", *r.Value, r.Unit)
	}
	fmt.Fprintf(out, "%s\t%s\n", r.Name, strings.TrimSpace(text))
}

// printAnswer writes an answer for a person.
func printAnswer(out io.Writer, a reckon.Answer) error {
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, r := range a.Results {
		printResult(table, r)
	}
	fmt.Fprintln(table)
	fmt.Fprintf(table, "model\t%s\nsource\t%s\nuncertain\t%s\n", a.Model, a.Source, a.Uncertainty)
	for _, k := range slices.Sorted(maps.Keys(a.Given)) {
		fmt.Fprintf(table, "given\t%s=%s\n", k, a.Given[k])
	}
	for _, t := range a.Taken {
		fmt.Fprintf(table, "taken\t%s=%s (%s)\n", t.Key, t.Value, t.Basis)
	}
	for _, m := range a.Marks {
		fmt.Fprintf(table, "mark\t%s\n", m)
	}
	for _, n := range a.Notes {
		fmt.Fprintf(table, "note\t%s\n", n)
	}
	return table.Flush()
}

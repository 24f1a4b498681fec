package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"

	"flitch/process"
	"flitch/process/record"
)

// listEntries prints what people entered, each line with the mark by which it is struck out.
func (d *daemon) listEntries(table io.Writer, list []record.Entry) {
	for i, e := range list {
		if i == 0 {
			fmt.Fprintln(table, "\nENTERED\tWHEN\tWHAT\tBY")
		}
		struck := ""
		if e.Struck != nil {
			words := e.Struck.Words(d.clock)
			struck = "  " + marked(words)
			if e.Struck.Instead {
				struck += "; see " + mark(e.Struck.ID, list)
			}
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s%s\n", cmp.Or(mark(e.ID, list), "-"), d.clock(e.Happened), shown(entryWords(e)), shown(e.By), shown(struck))
	}
}

// entryWords is an entry in a few words.
func entryWords(e record.Entry) string {
	words := []string{string(e.Kind)}
	switch {
	case e.Kind == process.CommandWeighed:
		words = append(words, e.Piece, fmt.Sprintf("%.0f g", e.Value))
	case e.Kind == process.CommandReading && e.Placement == process.PH:
		words = append(words, e.Piece, fmt.Sprintf("pH %.2f", e.Value))
	case e.Kind == process.CommandReading:
		words = append(words, string(e.Placement), e.Piece, fmt.Sprintf("%.1f °C", e.Value))
	}
	return strings.Join(strings.Fields(strings.Join(append(words, e.Text), " ")), " ")
}

// marked writes the first words in capitals: a terminal has no line through.
func marked(words string) string {
	first, rest, _ := strings.Cut(words, " by ")
	return strings.ToUpper(first) + " by " + rest
}

package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"flitch/cmd/flitch/internal/rehearsal"
	"flitch/process/record"
)

// printRehearsal tells a night: what the locked phone showed and what nobody was told,
// then the clocks, then what was expected.
func printRehearsal(w io.Writer, r *rehearsal.Report, zone *time.Location) error {
	title := "Batch "
	if r.Title != "" {
		title = r.Title + ": batch "
	}
	fmt.Fprintf(w, "%s%s by plan %s, %s to %s\n\n", title, r.Batch, r.Plan, nightStamp(r.From, zone), nightStamp(r.To, zone))
	for _, line := range nightLines(r, zone) {
		fmt.Fprintln(w, line)
	}
	if len(r.Phone) == 0 {
		fmt.Fprintln(w, "the phone stayed silent")
	}
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table)
	for _, c := range r.Clocks {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", c.Name, record.Verdict(c), record.Sum(c), strings.Join(c.Uncertain, "; "))
	}
	for _, h := range r.Happenings {
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\n", h.Name, h.Probe, nightStamp(h.From, zone), h.Detail)
	}
	fmt.Fprintln(table)
	for _, o := range r.Expectations {
		word, why := "met", ""
		if !o.Met {
			word, why = "NOT MET", o.Why
		}
		fmt.Fprintf(table, "%s\tline %d\t%s\t%s\n", word, o.Line, o.Text, why)
	}
	return table.Flush()
}

// nightLines are the messages and the silences, in order of time.
func nightLines(r *rehearsal.Report, zone *time.Location) []string {
	type told struct {
		at   time.Time
		text string
	}
	var all []told
	for _, m := range r.Phone {
		all = append(all, told{m.At, fmt.Sprintf("%s  ┌ %s   → %s\n%s  └ %s", nightStamp(m.At, zone), m.First, receiver(m), strings.Repeat(" ", len(nightStamp(m.At, zone))), m.Second)})
	}
	for _, q := range r.Quiet {
		all = append(all, told{q.At, fmt.Sprintf("%s    %s", nightStamp(q.At, zone), q.Text)})
	}
	slices.SortStableFunc(all, func(a, b told) int { return a.at.Compare(b.at) })
	lines := make([]string, len(all))
	for i, one := range all {
		lines[i] = one.text
	}
	return lines
}

// receiver is who is told, and by which channel.
func receiver(m rehearsal.Ring) string {
	if m.To == "" || strings.HasSuffix(m.By, m.To) {
		return m.By
	}
	return m.To + ", by " + m.By
}

func nightStamp(at time.Time, zone *time.Location) string {
	return at.In(zone).Format("Mon 2 Jan 15:04")
}

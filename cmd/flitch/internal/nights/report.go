package nights

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"flitch/alerts"
)

// A Report is what became of the nights.
type Report struct {
	Seed   uint64              `json:"seed"`
	Nights int                 `json:"nights"`
	Quiet  float64             `json:"quiet_nights"` // days of 24 hours without a fault and what follows from one
	Faults []Fault             `json:"faults"`
	Dues   []Fault             `json:"dues"` // what had to be told with nothing broken, and no fault near
	Missed int                 `json:"missed"`
	False  []alerts.Occurrence `json:"false_rings"` // rings of quiet nights that are no step to do
	Tells  map[string]Told     `json:"tells"`       // of quiet nights, by line of the catalogue
}

// Print writes the figures, a line for each kind of fault.
func (r *Report) Print(out io.Writer) error {
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "seed %d: %d nights, %.0f of them quiet, %d faults\n\n", r.Seed, r.Nights, r.Quiet, len(r.Faults))
	fmt.Fprintf(table, "fault\tfirst of\tnumber\tmissed\tmedian\tworst\n")
	for _, k := range kinds() {
		r.row(table, k)
	}
	fmt.Fprintf(table, "\ndue, nothing broken\tline\tnumber\tmissed\tmedian\tworst\n")
	for _, k := range dues() {
		r.row(table, k)
	}
	fmt.Fprintf(table, "\nmissed\t%d\nfalse rings\t%d in %.0f quiet nights\n", r.Missed, len(r.False), r.Quiet)
	for _, id := range slices.Sorted(maps.Keys(r.Tells)) {
		fmt.Fprintf(table, "told in quiet nights\t%s\n", r.Tells[id].words(id, r.Quiet))
	}
	for _, f := range slices.Concat(r.Faults, r.Dues) {
		if f.missed() > 0 {
			fmt.Fprintf(table, "missed\t%s\t%s to %s\n", f.Kind, f.At.Format(time.RFC3339), f.Mended.Format(time.RFC3339))
		}
	}
	list := func(what string, all []alerts.Occurrence) {
		for _, o := range all {
			fmt.Fprintf(table, "%s\t%s %s\t%s: %s\n", what, o.Entry, o.RaisedAt.Format(time.RFC3339), o.Title, o.Subject)
		}
	}
	list("false ring", r.False)
	for _, id := range slices.Sorted(maps.Keys(r.Tells)) {
		list("told", r.Tells[id].All)
	}
	return table.Flush()
}

// row prints a kind, and a line for each further line of the catalogue it asks for.
func (r *Report) row(out io.Writer, k kind) {
	line := func(name, lines string, took []time.Duration, missed int) {
		if len(took)+missed == 0 {
			return
		}
		median, worst := "-", "-"
		if len(took) > 0 {
			median, worst = minutes(took[len(took)/2]), minutes(took[len(took)-1])
		}
		fmt.Fprintf(out, "%s\t%s\t%d\t%d\t%s\t%s\n", name, lines, len(took)+missed, missed, median, worst)
	}
	took, missed := r.times(k.name)
	line(k.name, strings.Join(k.rings, ", "), took, missed)
	for i, a := range k.also {
		took, missed := r.further(k.name, i)
		line("  and", a.line, took, missed)
	}
}

func (t Told) words(id string, quiet float64) string {
	text := fmt.Sprintf("%s %d times, %.3f a night", id, t.Number, float64(t.Number)/max(1, quiet))
	if t.Judged > 0 {
		text += fmt.Sprintf("; true of the meat: %d of %d", t.True, t.Judged)
	}
	return text
}

// times are how long a kind took to be told of, in order.
func (r *Report) times(kind string) (took []time.Duration, missed int) {
	return r.collect(kind, func(f Fault) (bool, time.Duration) { return f.Alarm != "", f.After })
}

// further is the same for a further line of it.
func (r *Report) further(kind string, i int) (took []time.Duration, missed int) {
	return r.collect(kind, func(f Fault) (bool, time.Duration) { return f.Also[i].Came, f.Also[i].After })
}

func (r *Report) collect(kind string, of func(Fault) (came bool, after time.Duration)) (took []time.Duration, missed int) {
	for _, f := range slices.Concat(r.Faults, r.Dues) {
		if f.Kind != kind {
			continue
		}
		if came, after := of(f); came {
			took = append(took, after)
		} else {
			missed++
		}
	}
	slices.Sort(took)
	return took, missed
}

func minutes(d time.Duration) string { return fmt.Sprintf("%.0f min", d.Minutes()) }

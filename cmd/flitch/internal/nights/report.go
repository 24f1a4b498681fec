package nights

import (
	"fmt"
	"io"
	"maps"
	"slices"
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
	Missed int                 `json:"missed"`
	False  []alerts.Occurrence `json:"false_rings"` // rings of quiet nights that are no step to do
	Tells  map[string]int      `json:"tells"`       // of quiet nights, by line of the catalogue
}

// Print writes the figures, a line for each kind of fault.
func (r *Report) Print(out io.Writer) error {
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(table, "seed %d: %d nights, %.0f of them quiet, %d faults\n\n", r.Seed, r.Nights, r.Quiet, len(r.Faults))
	fmt.Fprintf(table, "fault\tnumber\tmissed\tmedian\tworst\n")
	for _, k := range kinds() {
		took, missed := r.times(k.name)
		if len(took)+missed == 0 {
			continue
		}
		median, worst := "-", "-"
		if len(took) > 0 {
			median, worst = minutes(took[len(took)/2]), minutes(took[len(took)-1])
		}
		fmt.Fprintf(table, "%s\t%d\t%d\t%s\t%s\n", k.name, len(took)+missed, missed, median, worst)
	}
	fmt.Fprintf(table, "\nmissed\t%d\nfalse rings\t%d in %.0f quiet nights\n", r.Missed, len(r.False), r.Quiet)
	for _, id := range slices.Sorted(maps.Keys(r.Tells)) {
		fmt.Fprintf(table, "told in quiet nights\t%s %d times\n", id, r.Tells[id])
	}
	for _, f := range r.Faults {
		if f.Alarm == "" {
			fmt.Fprintf(table, "missed\t%s\t%s to %s\n", f.Kind, f.At.Format(time.RFC3339), f.Mended.Format(time.RFC3339))
		}
	}
	for _, o := range r.False {
		fmt.Fprintf(table, "false ring\t%s %s\t%s\n", o.Entry, o.RaisedAt.Format(time.RFC3339), o.Title+": "+o.Subject)
	}
	return table.Flush()
}

func (r *Report) times(kind string) (took []time.Duration, missed int) {
	for _, f := range r.Faults {
		switch {
		case f.Kind != kind:
		case f.Alarm == "":
			missed++
		default:
			took = append(took, f.After)
		}
	}
	slices.Sort(took)
	return took, missed
}

func minutes(d time.Duration) string { return fmt.Sprintf("%.0f min", d.Minutes()) }

package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/dosing"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process/cure"
)

// printDoses writes a report for a person.
func printDoses(out io.Writer, r dosing.Report) error {
	fmt.Fprintf(out, "%s, counted on %s\n", r.Method, r.Basis)
	fmt.Fprintf(out, "curing salt: %s nitrite, %s nitrate, %s salt%s, %s sugar\n",
		percent(r.Mix.Nitrite), percent(r.Mix.Nitrate), percent(r.Mix.Salt), map[bool]string{true: " (the rest)"}[r.Mix.SaltRest], percent(r.Mix.Sugar))
	rule := "rule: none chosen"
	if r.Rule != "" {
		rule = "rule: " + r.Rule
	}
	if r.CapPPM != nil {
		rule += ", " + trimmed(*r.CapPPM) + " ppm"
	}
	fmt.Fprintf(out, "%s (%s)\n\n", rule, r.Source)
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "SLAB\tGREEN\t\tCURING SALT\tCOMMON SALT\tINGOING\tSALT\tWATER PHASE\tNITRITE IN IT")
	for _, lot := range r.Lots {
		printLot(table, lot)
	}
	for _, p := range r.Pump {
		fmt.Fprintf(table, "%s\t\tpump\t%.0f g of pickle\t\t\t\t\t\n", p.Name, p.PickleG)
	}
	var sources sourceList
	fmt.Fprintln(table, "\nSLAB\tCHECK\tVERDICT\tIS\tLIMIT\tBY")
	for _, lot := range r.Lots {
		for _, c := range slices.Concat(lot.Checks, lot.Least) {
			sources.print(table, lot.Name, c)
		}
	}
	fmt.Fprintln(table)
	if err := table.Flush(); err != nil {
		return err
	}
	for i, s := range sources {
		fmt.Fprintf(out, "[%d] %s\n", i+1, s)
	}
	for _, m := range r.Marks {
		fmt.Fprintf(out, "mark: %s\n", m)
	}
	for _, c := range r.Cautions {
		fmt.Fprintf(out, "caution: %s\n", c)
	}
	return nil
}

func printLot(out io.Writer, lot dosing.LotReport) {
	for _, p := range []struct {
		word    string
		portion *cure.Portion
	}{{"asked", lot.Asked}, {"weighed", lot.Weighed}} {
		if p.portion == nil {
			continue
		}
		common := "-"
		if p.portion.SaltG > 0 {
			common = fmt.Sprintf("%.1f g", p.portion.SaltG)
		}
		fmt.Fprintf(out, "%s\t%.0f g\t%s\t%.2f g\t%s\t%.1f ppm\t%.2f %%\t%.2f %%\t%.2f g\n",
			lot.Name, lot.GreenG, p.word, p.portion.CureG, common, p.portion.PPM, p.portion.SaltPct, p.portion.WPSPct, p.portion.NitriteG)
	}
}

// A sourceList numbers sources, so that each is printed once.
type sourceList []string

func (s *sourceList) number(source string) int {
	at := slices.Index(*s, source)
	if at < 0 {
		*s = append(*s, source)
		at = len(*s) - 1
	}
	return at + 1
}

func (s *sourceList) print(out io.Writer, slab string, c cure.Check) {
	by := c.Rule
	if by == "" {
		by = "no rule"
	}
	if c.Hint != "" {
		by = c.Hint + "; " + by
	}
	is, limit := strings.TrimSpace(trimmed(c.Value)+" "+c.Unit), trimmed(c.Limit)
	if c.Answer == cure.NotMeasured {
		is = "-"
	}
	if c.Limit == 0 {
		limit = "-"
	}
	fmt.Fprintf(out, "%s\t%s\t%s\t%s\t%s\t%s [%d]\n", slab, c.Name, c.Answer, is, limit, by, s.number(c.Source))
}

// trimmed writes a number with up to three decimals.
func trimmed(v float64) string { return strconv.FormatFloat(quantity.Thousandths(v), 'g', -1, 64) }

func percent(v float64) string { return fmt.Sprintf("%.4g %%", v) }

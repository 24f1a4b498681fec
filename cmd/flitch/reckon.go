package main

import (
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/reckon"
)

type reckonCommand struct {
	Name  string   `arg:"" optional:"" help:"Which calculator; the list when left out."`
	Given []string `arg:"" optional:"" sep:"none" help:"What it is told: key=value. Its keys when left out." placeholder:"KEY=VALUE"`
	Rows  string   `help:"CSV: keys in the first line, one question a line. What is given besides is for all lines." placeholder:"FILE"`
	Skip  []string `help:"Columns of the file that are not to be read, by their heads." placeholder:"HEAD"`
	As    []string `name:"as" sep:"none" help:"A column is to be read as a key, with its unit, as T_init=from_C." placeholder:"HEAD=KEY"`
	JSON  bool     `name:"json" help:"Print everything as JSON."`
}

// Help shows examples.
func (reckonCommand) Help() string {
	return "One model, one question: what the daemon and the record compute with, to be checked by hand. Values have units: 38mm, 1.5in, 61.5C, 142F, 90min, 6h, 7d, 2268g, 5lb, 35%." +
		"\n\nExample:\n\n    flitch reckon cure-time thickness=1.5in temp=4C\n    flitch reckon lethality temp=60C time=12min --json\n    flitch reckon wet-bulb --rows smoker.csv altitude=500m" +
		"\n\nThe first line of a column file has the keys, with a unit for plain numbers if there is one: thickness [mm], thickness_mm, rh_pct, water_frac, profile_min_C. A column source_unit has the units of source_mass. Other heads you name yourself, with --as T_init=from_C. Other columns are named and not used. A line that cannot be answered is named, and the rest is answered."
}

// Run answers one question, a file of them, or says what can be asked.
func (c reckonCommand) Run(t terminal) error {
	if c.Name == "" {
		return listCalculators(t.out)
	}
	calc, err := reckon.Named(c.Name)
	if err != nil {
		return err
	}
	if c.Rows != "" {
		return c.rows(t, calc)
	}
	if len(c.Given) == 0 {
		return listKeys(t.out, calc)
	}
	pairs, err := reckon.PairsOf(c.Given)
	if err != nil {
		return err
	}
	a, err := calc.Answer(pairs)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(t.out, a)
	}
	return printAnswer(t.out, a)
}

func listCalculators(out io.Writer) error {
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, c := range reckon.Calculators() {
		fmt.Fprintf(table, "%s\t%s\n", c.Name, c.Help)
	}
	fmt.Fprintln(table, "\nits keys: flitch reckon cure-time")
	return table.Flush()
}

func listKeys(out io.Writer, c reckon.Calculator) error {
	fmt.Fprintf(out, "%s: %s\n\n", c.Name, c.Help)
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, k := range c.Keys {
		fmt.Fprintf(table, "  %s\t%s\t%s\n", k.Name, k.Help, k.Without())
	}
	fmt.Fprintf(table, "\nflitch reckon %s %s\n", c.Name, c.Example)
	return table.Flush()
}

func writeJSON(out io.Writer, what any) error {
	encoder := json.NewEncoder(out)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	return encoder.Encode(what)
}

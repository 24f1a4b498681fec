package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
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

// A calculator is one model with its keys: data and one function.
type calculator struct {
	name    string
	help    string
	example string
	keys    []key
	work    func(given) (answer, error)
}

// calculators is the table; each is a file of its own.
func calculators() []calculator {
	return []calculator{
		cureTime(), cureProgress(), cureParts(), saltRest(), doseReckoning(), nitriteLeft(), dryTime(), dryProgress(), waterActivity(), freezingPoint(), trichinaFreezing(), productHold(),
		lethalityReckoning(), dangerZone(), growthReckoning(), degreeHours(),
		heatTime(), meatProperties(), chillReckoning(), wetBulb(), boilingPoint(), stallReckoning(), meanKinetic(),
	}
}

// Run answers one question, a file of them, or says what can be asked.
func (c reckonCommand) Run(t terminal) error {
	if c.Name == "" {
		return listCalculators(t.out)
	}
	calc, err := calculatorNamed(c.Name)
	if err != nil {
		return err
	}
	if c.Rows != "" {
		return c.rows(t, calc)
	}
	if len(c.Given) == 0 {
		return calc.listKeys(t.out)
	}
	pairs, err := pairsOf(c.Given)
	if err != nil {
		return err
	}
	a, err := calc.answer(pairs)
	if err != nil {
		return err
	}
	if c.JSON {
		return writeJSON(t.out, a)
	}
	return a.print(t.out)
}

func calculatorNamed(name string) (calculator, error) {
	var names []string
	for _, c := range calculators() {
		if c.name == name {
			return c, nil
		}
		names = append(names, c.name)
	}
	return calculator{}, misuse(closest(name, names), "there is no calculator %q", name)
}

// answer reads what is typed and works it out. Nothing typed is guessed at; what is
// taken for a key left out is in the answer.
func (c calculator) answer(typed []pair) (answer, error) {
	g, err := c.read(typed)
	if err != nil {
		return answer{}, err
	}
	a, err := c.work(g)
	if err != nil {
		if _, ok := err.(*complaint); !ok {
			err = misuse("flitch reckon "+c.name+" for its keys", "%v", err)
		}
		return answer{}, err
	}
	a.Calculator, a.Given = c.name, g.typed
	for _, t := range g.taken {
		if !slices.Contains(a.unused, t.Key) {
			a.Taken = append(a.Taken, t)
		}
	}
	return a, a.check()
}

func listCalculators(out io.Writer) error {
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, c := range calculators() {
		fmt.Fprintf(table, "%s\t%s\n", c.name, c.help)
	}
	fmt.Fprintln(table, "\nits keys: flitch reckon cure-time")
	return table.Flush()
}

func (c calculator) listKeys(out io.Writer) error {
	fmt.Fprintf(out, "%s: %s\n\n", c.name, c.help)
	table := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	for _, k := range c.keys {
		fmt.Fprintf(table, "  %s\t%s\t%s\n", k.name, k.help, k.without())
	}
	fmt.Fprintf(table, "\nflitch reckon %s %s\n", c.name, c.example)
	return table.Flush()
}

// without says what happens when the key is left out.
func (k key) without() string {
	switch {
	case k.needed:
		return "needed, as " + k.name + "=" + k.read.example
	case k.taken != "":
		return strings.TrimSpace(k.taken + " when left out; " + k.basis)
	}
	return "as " + k.name + "=" + k.read.example
}

func writeJSON(out io.Writer, what any) error {
	encoder := json.NewEncoder(out)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	return encoder.Encode(what)
}

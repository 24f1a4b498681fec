package main

import (
	"strings"

	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

type batchDosedCommand struct {
	batchName
	orderFlags
	Cure  []string `help:"Curing salt that was weighed: slab:weight; slabs in one brine with a plus: A+B:40g." required:"" sep:"none" placeholder:"A:5.7g"`
	Asked []string `help:"What the recipe asked, in the same way; left out with --ppm." sep:"none" placeholder:"A:5.7g"`
	packetFlags
	Text string `help:"Why it is another than was logged before." placeholder:"TEXT"`
}

// Help shows examples.
func (batchDosedCommand) Help() string {
	return "What was weighed is checked against what was asked and the cap of the rule, and is on the record. Packet, rule and " +
		"what was asked are said once for a batch. --at says when it went on: the cure clock counts from the slab dosed last." +
		"\n\nExample:\n\n    flitch batch dosed OL-31-04 --cure A:5.7g --cure B:5.5g --ppm 156 --nitrite 6.25% --rule us --by T.V." +
		"\n    flitch batch dosed OL-31-04 --cure C:5.8g --text \"had been forgotten\" --by T.V."
}

// Run sends the doses, and says what their checks came to.
func (c batchDosedCommand) Run(t terminal) error {
	d, err := c.dosing()
	if err != nil {
		return err
	}
	if err := c.send(t, order{Kind: process.CommandDosed, Batch: c.Batch, Dosing: d, Text: strings.TrimSpace(c.Text)}); err != nil {
		return err
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	batch, err := c.fetch(daemon)
	if err != nil {
		return err
	}
	return complainOfDoses(batch.Doses)
}

// complainOfDoses is the error of doses in force that fail their checks.
func complainOfDoses(doses []process.DoseEntry) error {
	var wrong []string
	for _, e := range doses {
		if e.Answer() != process.Met {
			wrong = append(wrong, e.Text())
		}
	}
	if len(wrong) == 0 {
		return nil
	}
	return problem("flitch batch dosed --cure A:5.7g --text \"typed wrongly\", if it was; else weigh again before it goes on",
		"it is on the record, and not in order: %s", strings.Join(wrong, "; "))
}

func (c batchDosedCommand) dosing() (*process.Dosing, error) {
	d := &process.Dosing{}
	for _, text := range c.Cure {
		pieces, g, err := parsePortion("--cure", text)
		if err != nil {
			return nil, err
		}
		d.Portions = append(d.Portions, process.DosePortion{Pieces: pieces, CureG: g})
	}
	for _, text := range c.Asked {
		pieces, g, err := parsePortion("--asked", text)
		if err != nil {
			return nil, err
		}
		if err := asked(d.Portions, pieces, g, text); err != nil {
			return nil, err
		}
	}
	if err := c.read(d); err != nil {
		return nil, err
	}
	return d, nil
}

// parsePortion reads A:5.7g, or A+B:40g.
func parsePortion(flag, text string) ([]string, float64, error) {
	names, weight, ok := strings.Cut(text, ":")
	if !ok || strings.TrimSpace(names) == "" {
		return nil, 0, misuse(flag+" A:5.7g", "%s %s: want the slab and the weight with a colon between", flag, text)
	}
	g, err := parseDoseWeight(weight)
	if err != nil {
		return nil, 0, quantity.Within(flag, text, err)
	}
	return strings.Split(strings.TrimSpace(names), "+"), g, nil
}

// asked puts what was asked beside what was weighed.
func asked(portions []process.DosePortion, pieces []string, g float64, text string) error {
	for i := range portions {
		if strings.Join(portions[i].Pieces, "+") == strings.Join(pieces, "+") {
			portions[i].AskedG = g
			return nil
		}
	}
	return misuse("--cure with the same slab", "--asked %s: nothing was weighed for it", text)
}

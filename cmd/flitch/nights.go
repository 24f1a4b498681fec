package main

import (
	"fmt"

	"flitch/cmd/flitch/internal/nights"
)

type nightsCommand struct {
	Nights  int      `help:"How many nights." default:"365" placeholder:"365"`
	Faults  int      `help:"How many faults in them." default:"200" placeholder:"200"`
	Seed    uint64   `help:"Other nights of the same kind." default:"1" placeholder:"1"`
	Without []string `help:"Lines of the catalogue to leave out: what would be missed?" placeholder:"C6,B5"`
	JSON    bool     `name:"json" help:"Print everything as JSON."`
}

// Help shows an example.
func (nightsCommand) Help() string {
	return "Invented nights with faults at known times go through the same evaluation as yours: what was missed, what rang for nothing, and how long it took. A year takes about a minute.\n\nExample:\n\n    flitch nights --nights 60 --faults 30 --seed 7"
}

// Run lives through the nights and prints the figures.
func (c nightsCommand) Run(t terminal) error {
	r := nights.Request{Seed: c.Seed, Without: c.Without, Nights: c.Nights, Faults: c.Faults, Progress: func(night int) {
		if night%30 == 0 {
			fmt.Fprintf(t.err, "night %d of %d\n", night, c.Nights)
		}
	}}
	report, err := nights.Run(r)
	if err != nil {
		return misuse("--nights 365 --faults 200", "%v", err)
	}
	if c.JSON {
		return writeJSON(t.out, report)
	}
	return report.Print(t.out)
}

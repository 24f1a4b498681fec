package main

import (
	"crypto/rand"
	"strings"

	"flitch/process"
)

type batchNewCommand struct {
	orderFlags
	Plan   string   `help:"Name of the plan: it says which of two products this will be, and so the limits." placeholder:"NAME"`
	Piece  []string `help:"One slab: name:green weight:thickness. Once for each." sep:"none" placeholder:"A:2268g:38mm"`
	Fridge string   `help:"Place it cures in." placeholder:"PLACE"`
	Smoker string   `help:"Place it is smoked in." placeholder:"PLACE"`
	Chill  string   `help:"Fridge it is chilled in, if not the one it cures in." placeholder:"PLACE"`
	Core   []string `help:"Which core probe goes into which slab. Once for each." sep:"none" placeholder:"core-1=A"`
	ID     string   `name:"id" help:"Name of the batch; the date and three letters when left out." placeholder:"NAME"`
}

// Help shows an example.
func (batchNewCommand) Help() string {
	return `Weights are in g, kg, lb or oz; thicknesses in mm, cm or in; always with the unit and a decimal point.

Example:

    flitch batch new --plan belly-dry-cured --piece A:2268g:38mm --piece B:5lb:1.5in --fridge alder --smoker old-kettle --core core-1=A --id OL-31-04 --by T.V.`
}

// Run checks all that can be checked here before anything is sent.
func (c batchNewCommand) Run(t terminal) error {
	switch {
	case c.Plan == "":
		return whichProduct()
	case len(c.Piece) == 0:
		return misuse(pieceExample, "no --piece: which slabs are there?")
	}
	pieces, err := parsePieces(c.Piece)
	if err != nil {
		return err
	}
	cores, err := parseCores(c.Core, pieces)
	if err != nil {
		return err
	}
	name := c.ID
	if name == "" {
		name = t.now().Format("2006-01-02-") + strings.ToLower(rand.Text()[:3])
	}
	return c.send(t, order{Kind: process.CommandNew, Batch: name, New: &newBatch{
		Plan: c.Plan, Pieces: pieces, Fridge: c.Fridge, Smoker: c.Smoker, Chill: c.Chill, Cores: cores,
	}})
}

package main

import (
	"cmp"
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
	packetFlags
	Like string `help:"Plan, places and what is asked of the cure as in this batch, where they are not said." placeholder:"BATCH"`
	ID   string `name:"id" help:"Name of the batch; the date and three letters when left out." placeholder:"NAME"`
}

// Help shows an example.
func (batchNewCommand) Help() string {
	return `Weights are in g, kg, lb or oz; thicknesses in mm, cm or in; always with the unit and a decimal point.

Example:

    flitch batch new --plan belly-dry-cured --piece A:2268g:38mm --piece B:5lb:1.5in --fridge alder --smoker old-kettle --core core-1=A --nitrite 6.25% --ppm 156 --rule us --id OL-31-04 --by T.V.
    flitch batch new --like OL-31-04 --piece A:2310g:40mm --id OL-31-05 --by T.V.`
}

// Run checks all that can be checked here before anything is sent.
func (c batchNewCommand) Run(t terminal) error {
	switch {
	case c.Plan == "" && c.Like == "":
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
	batch, err := c.like(t, pieces, cores)
	if err != nil {
		return err
	}
	return c.send(t, order{Kind: process.CommandNew, Batch: name, New: &batch})
}

// like is the batch that was said, and what was not as in another one.
func (c batchNewCommand) like(t terminal, pieces []process.Piece, cores map[string]string) (newBatch, error) {
	var old newBatch
	if c.Like != "" {
		d, err := c.daemon(t)
		if err != nil {
			return old, err
		}
		path, err := batchName{c.Like}.path("/api/batches/")
		if err == nil {
			err = d.get(path+"/like", &old)
		}
		if err != nil {
			return old, err
		}
	}
	b := newBatch{Plan: cmp.Or(c.Plan, old.Plan), Pieces: pieces, Fridge: cmp.Or(c.Fridge, old.Fridge), Smoker: cmp.Or(c.Smoker, old.Smoker),
		Chill: cmp.Or(c.Chill, old.Chill), Cores: cores, Asked: old.Asked}
	for probe, piece := range old.Cores {
		if len(c.Core) == 0 && hasPiece(pieces, piece) {
			b.Cores[probe] = piece
		}
	}
	return b, c.ask(&b)
}

// ask adds what is asked of the cure, if that was said.
func (c batchNewCommand) ask(b *newBatch) error {
	if c.packetFlags == (packetFlags{}) {
		return nil
	}
	if b.Asked == nil {
		b.Asked = &process.Dosing{}
	}
	return c.read(b.Asked)
}

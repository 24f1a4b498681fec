package main

import "flitch/process"

type batchTastedCommand struct {
	batchName
	orderFlags
	Salt    int    `help:"Salt, 1 to 5; 3 is as wanted." placeholder:"3"`
	Sweet   int    `help:"Sweetness, 1 to 5." placeholder:"3"`
	Smoke   int    `help:"Smoke, 1 to 5." placeholder:"3"`
	Texture int    `help:"Texture, 1 (soft) to 5 (hard)." placeholder:"3"`
	Colour  int    `help:"Colour, 1 (pale) to 5 (dark)." placeholder:"3"`
	Next    string `help:"What to change next time." placeholder:"TEXT"`
}

// Help shows an example.
func (batchTastedCommand) Help() string {
	return "How it came out; it stands beside the other batches on the page.\n\nExample:\n\n    flitch batch tasted OL-31-04 --salt 4 --smoke 3 --next \"an hour less smoke\" --by T.V."
}

// Run sends the card.
func (c batchTastedCommand) Run(t terminal) error {
	taste := process.Taste{Salt: c.Salt, Sweet: c.Sweet, Smoke: c.Smoke, Texture: c.Texture, Colour: c.Colour, Next: c.Next}
	for _, name := range process.TasteNames() {
		if n := *taste.Score(name); n < 0 || n > 5 {
			return misuse("--"+name+" 3", "--%s %d: a score is 1 to 5", name, n)
		}
	}
	if taste == (process.Taste{}) {
		return misuse("--salt 3, or --next \"an hour less smoke\"", "nothing stands on the card")
	}
	return c.send(t, order{Kind: process.CommandTasted, Batch: c.Batch, Taste: &taste})
}

package main

import (
	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
)

type batchCostCommand struct {
	batchName
	orderFlags
	Belly string `help:"What the bellies cost." placeholder:"210.50"`
	Cure  string `help:"What salt, curing salt, sugar and spice cost." placeholder:"3.20"`
	Fuel  string `name:"wood-or-power" help:"What wood, charcoal, gas or power cost." placeholder:"12"`
	Bags  string `help:"What the bags cost." placeholder:"8"`
	Other string `help:"What anything else cost." placeholder:"5"`
	Ends  string `help:"What the ends are worth: it is taken off the cost of the slices. 0: not valued." placeholder:"20"`
}

// Help shows an example.
func (batchCostCommand) Help() string {
	return "Of the whole batch, in the currency of the house. An amount entered again stands in the place of the one before; also after the batch was closed. " +
		"It stands in your own record and in no other.\n\nExample:\n\n    flitch batch cost OL-31-04 --belly 210.50 --cure 3.20 --wood-or-power 12 --bags 8 --ends 20 --by T.V."
}

// Run sends the amounts.
func (c batchCostCommand) Run(t terminal) error {
	cost := new(process.Cost)
	typed := map[process.CostKind]string{process.CostBelly: c.Belly, process.CostCure: c.Cure, process.CostFuel: c.Fuel, process.CostBags: c.Bags, process.CostOther: c.Other}
	for _, kind := range process.CostKinds() {
		if typed[kind] == "" {
			continue
		}
		v, err := parseMoney("--"+string(kind), typed[kind])
		if err != nil {
			return err
		}
		cost.Lines = append(cost.Lines, process.CostLine{What: kind, Amount: v})
	}
	if c.Ends != "" {
		v, err := parseMoney("--ends", c.Ends)
		if err != nil {
			return err
		}
		cost.Ends = &v
	}
	if len(cost.Lines) == 0 && cost.Ends == nil {
		return misuse("--belly 210.50", "no amount was given")
	}
	return c.send(t, order{Kind: process.CommandCost, Batch: c.Batch, Cost: cost})
}

// parseMoney reads an amount. A comma is never guessed at: 1,250 is one thing and a bit to
// one reader, and a thousand to another. How large it may be the daemon says.
func parseMoney(flag, text string) (float64, error) {
	v, ok := plain.Number(text)
	if !ok || v < 0 {
		return 0, misuse(flag+" 210.50", "%s %s: an amount is digits, with a point before the decimals, and no currency", flag, text)
	}
	return v, nil
}

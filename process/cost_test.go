package process

import (
	"math"
	"testing"
)

func priced(ends float64, lines ...CostLine) Command {
	c := &Cost{Lines: lines}
	if ends >= 0 {
		c.Ends = &ends
	}
	return Command{Kind: CommandCost, Cost: c}
}

// After an account of the trade: 35 lb at 2.06 are 72.10, of which came 22 lb of slices, and 0.30 for
// each of these is 6.60: 78.70 over 22 lb. What the ends are worth is invented.
func TestWhatSlicesCost(t *testing.T) {
	const lb = 453.59237
	d := newDiary(t)
	d.batch.Pieces = []Piece{{Name: "A", GreenG: 20 * lb, ThicknessMM: 38}, {Name: "B", GreenG: 15 * lb, ThicknessMM: 38}}
	if sum := d.batch.CostInForce(); len(sum.Lines) != 0 || sum.Ends != nil || sum.Sum() != 0 {
		t.Fatalf("nothing was said, and it is %+v", sum)
	}
	d.say(hour, priced(-1, CostLine{CostBags, 6.6}, CostLine{CostBelly, 721}))
	if _, known := d.batch.CostInForce().PerPound(); known {
		t.Error("slices that nobody weighed have a price")
	}
	d.say(2*hour, Command{Kind: CommandWeighed, Rung: RungSliced, Weights: []PieceWeight{{"A", 12 * lb}}})
	if _, known := d.batch.CostInForce().PerPound(); known {
		t.Error("the cost of two slabs is that of the slices of one")
	}
	d.say(3*hour, Command{Kind: CommandWeighed, Rung: RungSliced, Weights: []PieceWeight{{"B", 10 * lb}}})
	d.say(4*hour, priced(-1, CostLine{CostBelly, 72.1})) // the newest holds
	sum := d.batch.CostInForce()
	if len(sum.Lines) != 2 || sum.Lines[0].What != CostBelly || sum.Lines[0].Amount != 72.1 || sum.Lines[1].What != CostBags || sum.Lines[0].By == "" || sum.Ends != nil {
		t.Fatalf("%+v", sum)
	}
	near := func(what string, want, got float64, known bool) {
		t.Helper()
		if !known || math.Abs(got-want) > 1e-9 {
			t.Errorf("%s %v, want %v", what, got, want)
		}
	}
	v, known := sum.PerPound()
	near("a lb", 78.7/22, v, known)
	v, known = sum.PerKilogram()
	near("a kg", 78.7/22/0.45359237, v, known)
	d.say(5*hour, priced(3.87))
	v, known = d.batch.CostInForce().PerPound()
	near("a lb, with ends", (78.7-3.87)/22, v, known)
	near("in all", 78.7, d.batch.CostInForce().Sum(), true)
	d.say(6*hour, priced(0)) // not valued any more
	if sum := d.batch.CostInForce(); sum.Ends != nil || sum.OfSlices() != sum.Sum() {
		t.Errorf("%+v", sum)
	}
}

func TestCostsThatCannotBeAreRefused(t *testing.T) {
	d := newDiary(t)
	for want, c := range map[string]Command{
		"nothing stands":                  {Kind: CommandCost},
		"nothing stands in the cost":      priced(-1),
		`"beer" is no kind of cost`:       priced(-1, CostLine{"beer", 5}),
		`"" is no kind of cost`:           priced(-1, CostLine{"", 5}),
		`"ends" is no kind of cost`:       priced(-1, CostLine{"ends", 5}),
		"belly: -1 is no amount":          priced(-1, CostLine{CostBelly, -1}),
		"cure: NaN is no amount":          priced(-1, CostLine{CostBelly, 1}, CostLine{CostCure, math.NaN()}),
		"bags: 1.00000001e+06 is no":      priced(-1, CostLine{CostBags, 1000000.01}),
		"wood or power: +Inf is no":       priced(-1, CostLine{CostFuel, math.Inf(1)}),
		"other stands there twice":        priced(-1, CostLine{CostOther, 1}, CostLine{CostOther, 1}),
		"ends: 1.000001e+06 is no amount": priced(1000001, CostLine{CostBelly, 1}),
	} {
		d.wantRefusal(c, want)
	}
	minus := -0.5
	d.wantRefusal(Command{Kind: CommandCost, Cost: &Cost{Ends: &minus}}, "ends: -0.5 is no amount")
	if len(d.batch.Costs) != 0 {
		t.Errorf("%+v", d.batch.Costs)
	}
	d.say(hour, priced(0, CostLine{CostBelly, 0}, CostLine{CostBags, MaxCost})) // the bounds themselves
}

// The bill for power comes when the batch is long closed, and is no thing to strike out.
func TestCostsComeAfterTheCloseAndAreFollowed(t *testing.T) {
	d := newDiary(t)
	d.say(hour, Command{Kind: CommandClose, Text: "given away"})
	c := priced(20, CostLine{CostFuel, 12})
	c.ID = "bill"
	d.say(2*hour, c)
	if e := d.batch.Costs; len(e) != 1 || e[0].Words() != "wood or power 12.00, ends worth 20.00" {
		t.Errorf("%+v", e)
	}
	open := newDiary(t)
	open.say(hour, c)
	open.wantRefusal(Command{Kind: CommandStruck, Strikes: "bill"}, "the newest of each kind holds")
}

package process

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// A CostKind is what money went into.
type CostKind string

// The kinds of cost of a batch, of the trade.
const (
	CostBelly CostKind = "belly"
	CostCure  CostKind = "cure"
	CostFuel  CostKind = "wood-or-power"
	CostBags  CostKind = "bags"
	CostOther CostKind = "other"
)

// MaxCost bounds an amount, in the currency of the house (proposal: a slip of the keys, not of the trade).
const MaxCost = 1_000_000

// CostKinds are the kinds of cost in their order.
func CostKinds() []CostKind {
	return []CostKind{CostBelly, CostCure, CostFuel, CostBags, CostOther}
}

// Words is the kind as people say it.
func (k CostKind) Words() string { return strings.ReplaceAll(string(k), "-", " ") }

// A CostLine is one thing the whole batch cost.
type CostLine struct {
	What   CostKind `json:"what"`
	Amount float64  `json:"amount"` // in the currency of the house, 0 to 1,000,000
}

// A Cost is what was said of the cost of a batch at one time.
type Cost struct {
	Lines []CostLine `json:"lines,omitempty"`
	Ends  *float64   `json:"ends,omitempty"` // what the ends are worth, 0 to 1,000,000; 0: nothing any more; nil: not said
}

// A CostEntry is one entry of costs.
type CostEntry struct {
	ID    string    `json:"id,omitempty"` // of its command
	At    time.Time `json:"at"`
	Typed time.Time `json:"typed"`
	By    string    `json:"by"`
	Cost
}

// Money writes an amount with two decimals, and no currency.
func Money(amount float64) string { return fmt.Sprintf("%.2f", amount+0) } // + 0 makes minus zero zero

// Words is the entry in one line.
func (c Cost) Words() string {
	var parts []string
	for _, l := range c.Lines {
		parts = append(parts, l.What.Words()+" "+Money(l.Amount))
	}
	if c.Ends != nil {
		parts = append(parts, "ends worth "+Money(*c.Ends))
	}
	return strings.Join(parts, ", ")
}

// checkCost refuses an entry in which nothing stands, a kind that is none, and what is no amount.
func checkCost(c Command) error {
	if c.Cost == nil || len(c.Cost.Lines) == 0 && c.Cost.Ends == nil {
		return refuse("nothing stands in the cost", "an amount for belly, cure, wood-or-power, bags or other, or what the ends are worth")
	}
	seen := map[CostKind]bool{}
	for _, l := range c.Cost.Lines {
		if !slices.Contains(CostKinds(), l.What) {
			return refuse(fmt.Sprintf("%q is no kind of cost", l.What), "say belly, cure, wood-or-power, bags or other")
		}
		if seen[l.What] {
			return refuse(fmt.Sprintf("%s stands there twice", l.What.Words()), "one amount for each, for the whole batch")
		}
		seen[l.What] = true
		if err := checkMoney(l.What.Words(), l.Amount); err != nil {
			return err
		}
	}
	if c.Cost.Ends != nil {
		return checkMoney("ends", *c.Cost.Ends)
	}
	return nil
}

func checkMoney(what string, amount float64) error {
	if !(amount >= 0 && amount <= MaxCost) {
		return refuse(fmt.Sprintf("%s: %g is no amount", what, amount), fmt.Sprintf("0 to %d, as 210.50", MaxCost))
	}
	return nil
}

// costed takes an entry that checkCost has let through.
func (b *Batch) costed(c Command) {
	b.Costs = append(b.Costs, CostEntry{ID: c.ID, At: c.At, Typed: c.Typed, By: c.By, Cost: *c.Cost})
}

// A CostHeld is the newest word on one kind of cost.
type CostHeld struct {
	CostLine
	At time.Time // when that was, by the person's word
	By string
}

// A CostSum is what a batch cost, by the newest word on each kind.
type CostSum struct {
	Lines   []CostHeld // in the order of CostKinds, those that were said
	Ends    *CostHeld  // what they are worth; nil: not said, or 0: they are not valued
	SlicedG float64    // slices of all pieces, g; 0: not measured
}

// CostInForce is what the batch cost. Of entries of the same kind the one that was typed
// last holds. Slices count when those of every piece were weighed: the cost is that of all.
func (b *Batch) CostInForce() (sum CostSum) {
	for _, kind := range CostKinds() {
		if held, ok := b.newestCost(func(c Cost) (float64, bool) { return c.of(kind) }); ok {
			held.What = kind
			sum.Lines = append(sum.Lines, held)
		}
	}
	if held, ok := b.newestCost(func(c Cost) (float64, bool) { return c.ends() }); ok && held.Amount > 0 {
		sum.Ends = &held
	}
	if y := b.yieldAt(RungSliced); len(y.Pieces) == 0 || len(y.Pieces) == len(b.Pieces) {
		sum.SlicedG = y.Grams
	}
	return sum
}

func (b *Batch) newestCost(of func(Cost) (float64, bool)) (CostHeld, bool) {
	for _, e := range slices.Backward(b.Costs) {
		if v, ok := of(e.Cost); ok {
			return CostHeld{CostLine: CostLine{Amount: v}, At: e.At, By: e.By}, true
		}
	}
	return CostHeld{}, false
}

func (c Cost) of(kind CostKind) (float64, bool) {
	for _, l := range c.Lines {
		if l.What == kind {
			return l.Amount, true
		}
	}
	return 0, false
}

func (c Cost) ends() (float64, bool) {
	if c.Ends == nil {
		return 0, false
	}
	return *c.Ends, true
}

// Sum is all costs that were said.
func (c CostSum) Sum() (sum float64) {
	for _, l := range c.Lines {
		sum += l.Amount
	}
	return sum
}

// OfSlices is what the slices cost: all, less what the ends are worth where they are valued.
func (c CostSum) OfSlices() float64 {
	if c.Ends == nil {
		return c.Sum()
	}
	return c.Sum() - c.Ends.Amount
}

// PerGrams is what so many grams of slices cost; not known where no cost was said or the
// slices were not weighed.
func (c CostSum) PerGrams(g float64) (amount float64, known bool) {
	if len(c.Lines) == 0 || !(c.SlicedG > 0) {
		return math.NaN(), false
	}
	return c.OfSlices() / c.SlicedG * g, true
}

// PerKilogram and PerPound are PerGrams of 1000 g and of the avoirdupois pound of 1959, 453.59237 g exactly.
func (c CostSum) PerKilogram() (amount float64, known bool) { return c.PerGrams(1000) }

// PerPound is PerGrams of a pound.
func (c CostSum) PerPound() (amount float64, known bool) { return c.PerGrams(453.59237) }

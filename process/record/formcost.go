package record

import (
	"slices"
	"strings"

	"flitch/process"
)

// costOf is what the batch cost, and its slices, or a form for the pen.
func costOf(s *study) []Form {
	c := s.Cost
	if len(c.Lines) == 0 && c.Ends == nil {
		return []Form{costForThePen()}
	}
	f := Form{Name: "Cost", Title: "Cost", Columns: []string{"What", strings.TrimSpace("Amount " + s.Site.Currency), "Entered", "By"}}
	for _, l := range c.Lines {
		f.add(text(l.What.Words()), amount(l.Amount, 2), s.Site.when(l.At), text(l.By))
	}
	f.add(strong("sum"), amount(c.Sum(), 2), Cell{}, Cell{})
	if c.Ends == nil {
		f.add(text("ends"), text("not valued"), Cell{}, Cell{})
	} else {
		f.add(text("ends are worth, taken off"), amount(c.Ends.Amount, 2), s.Site.when(c.Ends.At), text(c.Ends.By))
	}
	f.add(text("a kg of slices"), moneyOr(c.PerKilogram()), Cell{}, Cell{})
	f.add(text("a lb of slices"), moneyOr(c.PerPound()), Cell{}, Cell{})
	if missing := unsaidCosts(c); len(missing) > 0 {
		f.Notes = append(f.Notes, "Not recorded: "+strings.Join(missing, ", ")+".")
	}
	if c.SlicedG > 0 {
		f.Notes = append(f.Notes, "Slices: "+fixed(c.SlicedG/1000, 2)+" kg, by the yield ladder.")
	} else {
		f.Notes = append(f.Notes, "The slices of all pieces were not weighed.")
	}
	return []Form{f}
}

func costForThePen() Form {
	f := Form{Name: "Cost", Title: "Cost", Facts: true, Blank: true, Notes: []string{"Not recorded, to be written by hand."}}
	for _, kind := range process.CostKinds() {
		f.add(text(kind.Words()), Cell{})
	}
	f.add(text("ends, if they are valued"), Cell{})
	return f
}

func moneyOr(v float64, known bool) Cell {
	if !known {
		return text(string(process.NotMeasured))
	}
	return amount(v, 2)
}

// unsaidCosts are the kinds that everybody has, and nobody entered.
func unsaidCosts(c process.CostSum) (out []string) {
	for _, kind := range process.CostKinds() {
		said := slices.ContainsFunc(c.Lines, func(l process.CostHeld) bool { return l.What == kind })
		if !said && kind != process.CostOther {
			out = append(out, kind.Words())
		}
	}
	return out
}

// withoutCost leaves out what the maker said of money: it is in their own form, and what
// people entered is shown to others.
func withoutCost(all []Entry) []Entry {
	return slices.DeleteFunc(slices.Clone(all), func(e Entry) bool { return e.Kind == process.CommandCost })
}

package record

import (
	"strings"
	"testing"

	"flitch/process"
)

// Slices that nobody weighed have no price, and ends that nobody valued have no worth.
func TestACostThatIsNotWhole(t *testing.T) {
	r := whole(t)
	r.Site.Currency, r.Cost.SlicedG, r.Cost.Ends, r.Cost.Lines = "", 0, nil, r.Cost.Lines[:1]
	r.Cost.Lines[0].Amount = 1e6
	for want, cost := range map[string]process.CostSum{
		`What | Amount | Entered | By
belly | 1000000.00 | Wed 18 Nov 2026 09:26 CET | MO
sum | 1000000.00 |  | 
ends | not valued |  | 
a kg of slices | not measured |  | 
a lb of slices | not measured |  | 
Not recorded: cure, wood or power, bags.
The slices of all pieces were not weighed.`: r.Cost,
		`belly | 
cure | 
wood or power | 
bags | 
other | 
ends, if they are valued | 
Not recorded, to be written by hand.`: {SlicedG: 2000},
	} {
		r.Cost = cost
		s, err := r.study()
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(shown(costOf(s)[0]), "\n"); got != want {
			t.Errorf("the form says\n%s\nwant\n%s", got, want)
		}
	}
}

// What a batch cost is the maker's to know: no other reader gets it, in no format.
func TestCostIsForTheMakerAlone(t *testing.T) {
	r := whole(t)
	pages := map[string]string{"json": string(written(t, r.JSON)), "html": string(written(t, r.HTML)), "csv": string(written(t, r.CSV))}
	for _, reader := range Readers() {
		p, err := r.Paper(reader)
		if err != nil {
			t.Fatal(err)
		}
		pages[string(reader)] = string(written(t, p.HTML))
	}
	for name, page := range pages {
		for _, inside := range []string{"72.10", "ends worth", "EUR"} {
			if name == string(Self) {
				continue
			}
			if strings.Contains(page, inside) {
				t.Errorf("%s says %q", name, inside)
			}
		}
	}
	if !strings.Contains(pages[string(Self)], "72.10") || !strings.Contains(pages[string(Self)], "Amount EUR") {
		t.Error("the maker's own record does not say what the batch cost")
	}
}

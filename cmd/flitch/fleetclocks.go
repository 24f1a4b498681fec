package main

import (
	"encoding/json"
	"fmt"
	"text/tabwriter"
	"time"

	"flitch/process"
	"flitch/store/fleet"
)

type fleetClocksCommand struct {
	onlyFleet
}

// Help shows an example.
func (fleetClocksCommand) Help() string {
	return "Each batch as its site has evaluated it, as of the moment that stands beside it: flitch fleet verify computes the same anew from the readings that were sent.\n\nExample:\n\n" +
		"    flitch fleet clocks --database-file secrets/fleet\n    flitch fleet clocks --site larder --json"
}

// batchClocks are the clocks of one batch, as they are printed.
type batchClocks struct {
	Site   string          `json:"site"`
	Batch  string          `json:"batch"`
	Stage  string          `json:"stage"`
	AsOf   time.Time       `json:"as_of"`
	Heard  time.Time       `json:"heard"`
	Silent bool            `json:"not_heard"` // for too long: what it says of now is not known
	Clocks []process.Clock `json:"clocks"`
	Wrong  string          `json:"wrong,omitempty"` // what was sent of it cannot be read
}

// Run prints one line a clock.
func (c fleetClocksCommand) Run(t terminal) error {
	out := []batchClocks{}
	err := c.each(t, false, func(s *fleet.Site) error {
		rows, err := s.States()
		if err != nil {
			return complain(err)
		}
		for _, row := range rows {
			if row.Status != "open" {
				continue
			}
			one := batchClocks{Site: s.Name, Batch: row.ID, Heard: s.Heard.UTC(), Silent: s.Age > silentAfter(s), Clocks: []process.Clock{}}
			one.Wrong = one.fill(row.State)
			out = append(out, one)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if c.JSON {
		return inJSON(t, out)
	}
	if len(out) == 0 {
		fmt.Fprintln(t.out, "no site has an open batch")
		return nil
	}
	return printClocks(t, out)
}

// fill reads the state of a batch; what it returns is wrong with it. Whoever can write in the
// database can write nonsense there.
func (c *batchClocks) fill(state []byte) (wrong string) {
	defer func() {
		if r := recover(); r != nil {
			wrong = "what was sent of it makes no sense"
		}
	}()
	b := new(process.Batch)
	if err := json.Unmarshal(state, b); err != nil || len(b.Plan.Stages) == 0 {
		return "what was sent of it cannot be read"
	}
	c.Stage, c.AsOf, c.Clocks = string(b.Stage().Name), b.Now, b.Clocks(b.Now)
	return ""
}

func printClocks(t terminal, all []batchClocks) error {
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "SITE\tBATCH\tSTAGE\tAS OF\tCLOCK\tSUM\tLIMIT\tVERDICT\tUNCERTAIN")
	for _, b := range all {
		at := stamp(b.AsOf)
		if b.Silent {
			at += " (" + notHeard + " since " + stamp(b.Heard) + ")"
		}
		if b.Wrong != "" {
			fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\n", shown(b.Site), shown(b.Batch), "-", at, b.Wrong)
		}
		for _, c := range b.Clocks {
			fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\t%.2f %s\t%s\t%s\t%s\n", shown(b.Site), shown(b.Batch), shown(b.Stage), at, shown(string(c.Name)), c.Sum, shown(c.Unit), shown(limit(c)), shown(verdict(c)), shown(doubt(c)))
		}
	}
	return table.Flush()
}

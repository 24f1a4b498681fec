package main

import (
	"fmt"
	"strconv"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/api"
)

// phonesCommands is the table under "flitch phones".
type phonesCommands struct {
	List   phonesListCommand   `cmd:"" help:"List the phones that are rung by web push." default:"withargs"`
	Remove phonesRemoveCommand `cmd:"" help:"Take a phone off the list."`
}

type phonesListCommand struct {
	daemonFlags
}

// Help shows an example.
func (phonesListCommand) Help() string {
	return "A phone is added on itself: open the page and press Ring this phone.\n\nExample:\n\n    flitch phones list"
}

// Run prints the phones in the order they came.
func (c phonesListCommand) Run(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	var phones []api.Phone
	if err := daemon.get("/api/phones", &phones); err != nil {
		return err
	}
	if len(phones) == 0 {
		_, err = fmt.Fprintln(t.out, "no phone is rung by web push; on a phone, open the page and press Ring this phone")
		return err
	}
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "NO.\tPHONE\tWHOSE\tCHANNEL\tSINCE\tSTATE")
	for _, p := range phones {
		state := "rings"
		if !p.Ended.IsZero() {
			state = fmt.Sprintf("rings no more since %s: %s", daemon.clock(p.Ended), p.Why)
		}
		fmt.Fprintf(table, "%d\t%s\t%s\t%s\t%s\t%s\n", p.ID, shown(p.Name), shown(p.Person), p.Channel, daemon.clock(p.Added), state)
	}
	return table.Flush()
}

type phonesRemoveCommand struct {
	Phone string `arg:"" help:"Its number or its name, as in the list." placeholder:"NAME|NUMBER"`
	By    string `help:"Your initials ($FLITCH_BY)." placeholder:"INITIALS"`
	daemonFlags
}

// Help shows an example.
func (phonesRemoveCommand) Help() string {
	return "It is rung no more, and what waits for it is given up.\n\nExamples:\n\n    flitch phones remove 2 --by T.V.\n    flitch phones remove \"grey phone\" --by T.V."
}

// Run finds the phone and takes it off the list.
func (c phonesRemoveCommand) Run(t terminal) error {
	by, err := orderFlags{By: c.By}.signature(t)
	if err != nil {
		return err
	}
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	var phones []api.Phone
	if err := daemon.get("/api/phones", &phones); err != nil {
		return err
	}
	p, err := choosePhone(phones, c.Phone)
	if err != nil {
		return err
	}
	var answer struct {
		Message string `json:"message"`
	}
	order := struct {
		Phone int64  `json:"phone"`
		By    string `json:"by"`
	}{p.ID, by}
	if err := daemon.post("/api/phones/remove", order, &answer); err != nil {
		return err
	}
	_, err = fmt.Fprintf(t.out, "%s, %s: %s\n", p.Name, p.Person, answer.Message)
	return err
}

// choosePhone finds the phone of a number, or else of a name that only one has.
func choosePhone(phones []api.Phone, word string) (found api.Phone, err error) {
	number, _ := strconv.ParseInt(word, 10, 64) // zero: no phone has it
	named := 0
	for _, p := range phones {
		if p.ID == number {
			return p, nil
		}
		if p.Name == word {
			found = p
			named++
		}
	}
	switch named {
	case 0:
		return found, problem("flitch phones, which lists them", "there is no phone %q", word)
	case 1:
		return found, nil
	}
	return api.Phone{}, problem("the number of one, from flitch phones", "%d phones are called %q", named, word)
}

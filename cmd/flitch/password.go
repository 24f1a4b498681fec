package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/term"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/signin"
)

type passwordCommand struct {
	Who    string `arg:"" optional:"" help:"Initials of a person of the configuration, or a name for a guest link. Without it: who there is."`
	Guest  bool   `help:"Make a link that shows the page and changes nothing, such as for a screen on the wall."`
	Days   int    `help:"For how many days a guest link is good, at most 400." default:"90"`
	Remove bool   `help:"Take the password or the link away; whoever was signed in with it is out."`
	Config string `help:"Configuration of the daemon." default:"flitch.toml" placeholder:"FILE"`
}

// Help shows examples.
func (passwordCommand) Help() string {
	return "Works on the machine of the daemon, also while it runs. The password is asked for, or read from the input. Examples:\n\n    flitch password T.V.\n    flitch password wall --guest\n    flitch password wall --remove"
}

// Run sets, makes, removes or lists.
func (c passwordCommand) Run(t terminal) error {
	loaded, err := daemonFlags{Config: c.Config}.load()
	if err != nil {
		return err
	}
	file := signin.FileOf(loaded.Site.Database)
	switch {
	case c.Who == "":
		return c.list(t, file)
	case c.Remove:
		return c.remove(t, file)
	case c.Guest:
		return c.guest(t, file, loaded)
	}
	return c.set(t, file, loaded)
}

// mostDays is how long a guest link is good at most: proposal, a year and a little.
const mostDays = 400

func (c passwordCommand) guest(t terminal, file signin.File, loaded *config.Config) error {
	if c.Days < 1 || c.Days > mostDays {
		return misuse("--days 90", "%d days is not from 1 to %d", c.Days, mostDays)
	}
	ends := time.Now().AddDate(0, 0, c.Days)
	secret, err := file.NewGuest(c.Who, ends)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(t.out, "%s/guest/%s\ngood until %s\n", loaded.Page.Link, secret, ends.In(loaded.Site.Zone).Format("2006-01-02 15:04"))
	return err
}

func (c passwordCommand) set(t terminal, file signin.File, loaded *config.Config) error {
	var known []string
	for _, p := range loaded.Persons {
		known = append(known, p.Initials)
	}
	if !slices.Contains(known, c.Who) {
		return problem("one of "+strings.Join(known, ", ")+", or a [[person]] with these initials first", "%s has no person %q", c.Config, c.Who)
	}
	password, err := t.secret("new password of " + c.Who + ": ")
	if err != nil {
		return err
	}
	if t.in != nil && term.IsTerminal(int(t.in.Fd())) {
		again, err := t.secret("once more: ")
		if err != nil {
			return err
		}
		if again != password {
			return problem("flitch password "+c.Who+" again", "the two are not the same, nothing was changed")
		}
	}
	if err := file.Set(c.Who, password); err != nil {
		return err
	}
	_, err = fmt.Fprintf(t.out, "%s can sign in; whoever was signed in as %s has to do so again\n", c.Who, c.Who)
	return err
}

func (c passwordCommand) remove(t terminal, file signin.File) error {
	ok, err := file.Remove(c.Who)
	if err == nil && !ok {
		return problem("flitch password, which lists them", "there is no password and no guest link of %q", c.Who)
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(t.out, "%s is out\n", c.Who)
	return err
}

func (c passwordCommand) list(t terminal, file signin.File) error {
	people, guests, err := file.Names()
	if err != nil {
		return err
	}
	for i, name := range guests {
		if ends := file.Ends(name); !ends.IsZero() {
			guests[i] = name + " until " + ends.Format("2006-01-02")
		}
	}
	fmt.Fprintf(t.out, "can sign in: %s\nguest links: %s\n", orNone(people), orNone(guests))
	return nil
}

func orNone(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"flitch/cmd/flitch/internal/config"
	"flitch/store/fleet"
)

type fleetInitCommand struct {
	fleetFlags
	Site   []string `help:"User of the database that a site signs in as: it may add rows of its own and say anew how things stand there, not change or delete what was sent. Again for more." placeholder:"USER" sep:"none"`
	Reader []string `help:"User that may read what all sites have sent." placeholder:"USER" sep:"none"`
}

// Help shows an example.
func (fleetInitCommand) Help() string {
	return "By the owner of the database. Run it again after an upgrade: tables only go forward, and an older flitch refuses newer ones, so upgrade the sites first. " +
		"Users are made by PostgreSQL's own createuser.\n\nExample:\n\n" +
		"    createdb flitch; createuser --pwprompt larder\n    flitch fleet init --database 'postgres:///flitch?host=/run/postgresql' --site larder"
}

// Run makes the tables and gives rights.
func (c fleetInitCommand) Run(t terminal) error {
	at, err := c.address(t)
	if err != nil {
		return err
	}
	for _, user := range append(c.Site, c.Reader...) {
		if strings.TrimSpace(user) == "" {
			return misuse("--site USER", "a user has no name")
		}
	}
	ctx, stop := interrupted()
	defer stop()
	from, to, err := fleet.Migrate(ctx, at)
	if err != nil {
		return complain(err)
	}
	if from == to {
		fmt.Fprintf(t.out, "the tables are of schema %d already\n", to)
	} else {
		fmt.Fprintf(t.out, "tables made, schema %d to %d\n", from, to)
	}
	if err := c.allow(ctx, t, at, c.Site, true, "may add rows of its own and say anew how things stand there; it changes and deletes nothing that was sent"); err != nil {
		return err
	}
	return c.allow(ctx, t, at, c.Reader, false, "may read all sites")
}

func (fleetInitCommand) allow(ctx context.Context, t terminal, at fleet.Address, users []string, site bool, what string) error {
	for _, user := range users {
		if err := fleet.Allow(ctx, at, user, site); err != nil {
			return complain(err)
		}
		fmt.Fprintf(t.out, "%s %s\n", user, what)
	}
	return nil
}

type fleetAdoptCommand struct {
	Config string `help:"Configuration of the site." default:"flitch.toml" placeholder:"FILE"`
	Yes    bool   `help:"Yes, this installation is the one that goes on." name:"yes"`
}

// Help shows an example.
func (fleetAdoptCommand) Help() string {
	return "After a restore from a backup that is older than what was sent, the site stops sending: what is there is not what it has. " +
		"This puts what is there aside, whole, under the name with the moment behind it, and lets this installation send its own history from the beginning. " +
		"Never say it of a copy that was only started by mistake.\n\nExample:\n\n    flitch fleet adopt --config flitch.toml --yes"
}

// Run puts the other history aside.
func (c fleetAdoptCommand) Run(t terminal) error {
	cfg, err := config.Load(c.Config)
	if _, ok := errors.AsType[*config.Problems](err); ok {
		return problem("flitch check --config "+c.Config, "%s has problems", c.Config)
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return unreadable(c.Config, err)
	case err != nil:
		return err
	case !cfg.Fleet.URL.IsSet():
		return problem("[fleet] with url_file =", "%s belongs to no fleet", c.Config)
	case !c.Yes:
		return misuse("flitch fleet adopt --config "+c.Config+" --yes", "this takes the name %s away from whatever has sent under it so far; is it this installation that goes on?", cfg.Fleet.Site)
	}
	at, err := fleet.ParseAddress(cfg.Fleet.URL.Reveal())
	if err != nil {
		return problem("", "%v", err)
	}
	ctx, stop := interrupted()
	defer stop()
	before, err := fleet.Adopt(ctx, at, cfg.Fleet.Site, t.now())
	if err != nil {
		return complain(err)
	}
	fmt.Fprintf(t.out, "what was sent before stands under %q now; this installation begins to send within five minutes\n", before)
	return nil
}

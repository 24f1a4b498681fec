package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"text/tabwriter"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/store/fleet"
)

type checkCommand struct {
	Config string        `help:"Configuration to read." default:"flitch.toml" placeholder:"FILE"`
	Outage time.Duration `help:"Also try whether the outside broker keeps what comes while flitch is away for so long." placeholder:"8h"`
}

// Help shows an example.
func (checkCommand) Help() string {
	return "All problems are listed at once, each with its line and what to type instead.\n\nExample:\n\n    flitch check --config flitch.toml\n    flitch check --config flitch.toml --outage 8h"
}

// Run prints the problems themselves to the output: they are the answer.
func (c checkCommand) Run(t terminal) error {
	loaded, err := config.Load(c.Config)
	if problems, ok := errors.AsType[*config.Problems](err); ok {
		fmt.Fprintln(t.out, problems)
		return problem("the text after type:, then flitch check --config "+c.Config, "%s", count(len(problems.List), "problem"))
	}
	if err != nil {
		return unreadable(c.Config, err)
	}
	if loaded.Doubts != nil {
		fmt.Fprintln(t.out, loaded.Doubts)
		return problem("the text after type:; flitch run starts all the same", "%s", count(len(loaded.Doubts.List), "problem"))
	}
	fmt.Fprintf(t.out, "%s: no problems, %s, %s, %s\n", c.Config,
		count(len(loaded.Places), "place"), count(len(loaded.Probes), "probe"), count(len(loaded.Channels), "channel"))
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	for _, p := range loaded.Probes {
		fmt.Fprintf(table, "  %s\t%s\t%s\n", p.Name, p.ReadFrom(), p.InWords())
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if len(loaded.Channels) == 0 {
		fmt.Fprintln(t.out, "note: no channel, so an alarm shows on the page only and wakes nobody")
	}
	if len(loaded.Channels) > 0 && !slices.ContainsFunc(loaded.Channels, takesTells) {
		fmt.Fprintln(t.out, `note: every channel takes rings only, so what can wait is told nobody: a turn that is due, a low battery, the summary of the night; type: level = "tell" in one of them`)
	}
	for _, user := range loaded.Broker.Users {
		if user.MayPublish == nil {
			fmt.Fprintf(t.out, "note: %s may publish on every topic that is in no may_publish of another user\n", user.Name)
		}
	}
	for _, channel := range loaded.Channels {
		if channel.Kind == "push" {
			fmt.Fprintf(t.out, "note: %s rings the phones that are added on %s/phones\n", channel.Name, loaded.Page.Link)
		}
	}
	if loaded.Fleet.URL.IsSet() {
		at, err := fleet.ParseAddress(loaded.Fleet.URL.Reveal())
		if err != nil {
			return problem("flitch check --config "+c.Config, "fleet.url: %v", err)
		}
		fmt.Fprintf(t.out, "note: what is stored is copied to %s, as site %s\n", at, loaded.Fleet.Site)
	}
	if c.Outage != 0 {
		return tryOutage(t, loaded, c.Outage)
	}
	return nil
}

// takesTells reports a channel that takes more than rings, and not only when another
// has failed.
func takesTells(c config.Channel) bool { return c.Level == "tell" && !c.Backup }

// unreadable explains a configuration that could not be opened.
func unreadable(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return problem("--config FILE, or flitch init DIR to make one", "there is no %s", path)
	}
	if info, statErr := os.Stat(path); statErr == nil && info.IsDir() {
		return problem("--config "+filepath.Join(path, "flitch.toml"), "%v", err)
	}
	return err
}

func count(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

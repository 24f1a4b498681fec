package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
	"flitch/process/record"
	"flitch/store"
)

type restoreCommand struct {
	Copy    string `arg:"" help:"Folder of the copy, or the database in one."`
	To      string `help:"Folder of the installation; made if it is not there." required:"" placeholder:"DIR"`
	By      string `help:"Your initials, for the journal." required:""`
	Replace bool   `help:"A database that is there is moved aside."`
}

// Help shows an example.
func (restoreCommand) Help() string {
	return "The copy is examined first. Configuration and secrets come along where they are missing; what is there stays.\n\nExample:\n\n" +
		"    flitch restore /media/stick/flitch/flitch-20310502T210000Z --to larder --by T.V."
}

// Run puts a copy back.
func (c restoreCommand) Run(t terminal) error {
	by := strings.TrimSpace(c.By)
	if err := signs(by); err != nil {
		return err
	}
	now := time.Now()
	done, err := backup.Restore(backup.Return{From: c.Copy, To: c.To, By: by, Replace: c.Replace, Now: now})
	switch {
	case errors.Is(err, backup.ErrThere):
		return problem("--replace moves it aside, or another folder: --to DIR", "%v", err)
	case errors.Is(err, store.ErrLocked):
		return problem("stop the daemon, then the same again", "%v", err)
	case errors.Is(err, backup.ErrSame):
		return problem("--to larder, another folder than that of the copy", "%v", err)
	case errors.Is(err, backup.ErrTarget):
		return problem("--to larder, or another folder that may be written to", "%v", err)
	case errors.Is(err, backup.ErrSettings):
		return problem("put a configuration of your own, whose database is inside it, into "+filepath.Join(c.To, "flitch.toml"), "%v", err)
	case errors.Is(err, store.ErrNewer):
		return problem("the flitch that made the copy, or a newer one", "%v", err)
	case err != nil:
		return problem("flitch backup --list shows the copies there are", "%v", err)
	}
	fmt.Fprintf(t.out, "%s\n%s\n", done.Database, contents(done.Copied, record.Site{}))
	if done.Aside != "" {
		fmt.Fprintf(t.out, "the database that was there is now %s\n", done.Aside)
	}
	for _, path := range done.Beside {
		fmt.Fprintf(t.out, "came along: %s\n", shown(path))
		if filepath.Base(path) == "flitch.toml" {
			cameAlong(t, path)
		}
	}
	for _, name := range done.Left {
		fmt.Fprintf(t.out, "left out: %s in the copy is a link or another thing that is no plain file; copy what it means by hand\n", name)
	}
	if !done.Newest.IsZero() {
		fmt.Fprintf(t.out, "what came in since then is not in it: %s until now\n", record.Span(now.Sub(done.Newest)))
	}
	return nil
}

// cameAlong says what a configuration of a copy does by itself: a copy lies on a stick or a server.
func cameAlong(t terminal, path string) {
	fmt.Fprintln(t.out, "  look through it before flitch runs by it: who can write to the copy can change where it sends and what it runs")
	c, err := config.LoadPublic(path)
	if err != nil {
		return // check says what is wrong with it
	}
	if len(c.Backup.HandOn) > 0 {
		fmt.Fprintf(t.out, "  after each copy it runs: %q\n", c.Backup.HandOn)
	}
	for _, channel := range c.Channels {
		fmt.Fprintf(t.out, "  it sends what rings to: %s (%s)\n", shown(channel.Name), channel.Kind)
	}
}

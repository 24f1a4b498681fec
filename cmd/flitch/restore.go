package main

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/backup"
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
	case err != nil:
		return problem("flitch backup --list shows the copies there are", "%v", err)
	}
	fmt.Fprintf(t.out, "%s\n%s\n", done.Database, contents(done.Copied, record.Site{}))
	if done.Aside != "" {
		fmt.Fprintf(t.out, "the database that was there is now %s\n", done.Aside)
	}
	for _, path := range done.Beside {
		fmt.Fprintf(t.out, "came along: %s\n", path)
	}
	if !done.Newest.IsZero() {
		fmt.Fprintf(t.out, "what came in since then is not in it: %s until now\n", record.Span(now.Sub(done.Newest)))
	}
	return nil
}

package main

import (
	"context"
	"errors"
	"fmt"
	"os/signal"
	"syscall"
	"time"

	"flitch/cmd/flitch/internal/backup"
	"flitch/cmd/flitch/internal/config"
	"flitch/process/record"
	"flitch/store"
)

type backupCommand struct {
	Config  string `help:"Configuration of the daemon." default:"flitch.toml" placeholder:"FILE"`
	To      string `help:"Folder for the copy; by default the one under [backup]." placeholder:"DIR"`
	Secrets bool   `help:"Copy the keys and passwords too."`
	List    bool   `help:"List the copies instead."`
	Examine string `help:"Read a copy whole and say what is in it, instead." placeholder:"COPY"`
}

// Help shows an example.
func (backupCommand) Help() string {
	return "The daemon goes on meanwhile. A copy is opened, checked and counted before it has its name.\n\nExample:\n\n" +
		"    flitch backup --to /media/stick/flitch\n    flitch backup --list\n    flitch backup --examine /media/stick/flitch/flitch-20310502T210000Z"
}

// Run makes a copy, lists them, or examines one.
func (c backupCommand) Run(t terminal) error {
	if c.Examine != "" {
		return c.examine(t)
	}
	cfg, err := config.LoadPublic(c.Config)
	if err != nil {
		return unreadable(c.Config, err)
	}
	order := backup.Of(cfg, time.Now())
	if c.To != "" {
		order.Folder = c.To
	}
	order.Secrets = order.Secrets || c.Secrets
	if order.Folder == "" {
		return problem("flitch backup --to /media/stick/flitch, or folder = under [backup]", "nobody said where copies go")
	}
	if c.List {
		return list(t, order.Folder, cfg)
	}
	db, err := store.OpenReadOnly(cfg.Site.Database)
	if err != nil {
		return err
	}
	defer db.Close()
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM)
	defer stop()
	fmt.Fprintf(t.err, "copying %s\n", cfg.Site.Database)
	made, found, err := backup.Make(ctx, db, order)
	if err != nil {
		return problem("--to a folder that can be written to, on another disk, with room", "%v", err)
	}
	_, err = fmt.Fprintf(t.out, "%s\n%s\n", made.Folder, contents(found, record.Site{Zone: cfg.Site.Zone}))
	return err
}

func (c backupCommand) examine(t terminal) error {
	found, err := backup.Examine(c.Examine)
	if err != nil {
		return problem("flitch backup --list shows the others", "%v", err)
	}
	fmt.Fprintln(t.out, contents(found, record.Site{}))
	switch err := backup.Restorable(c.Examine); {
	case errors.Is(err, store.ErrNewer):
		return problem("flitch restore of the flitch that made it, or of a newer one", "this flitch cannot put it back: %v", err)
	case err != nil:
		return problem("another copy", "flitch restore refuses it: %v", err)
	}
	return nil
}

func list(t terminal, folder string, cfg *config.Config) error {
	all, err := backup.List(folder)
	if err != nil {
		return problem("--to with the folder of the copies", "%v", err)
	}
	for _, one := range all {
		fmt.Fprintf(t.out, "%s  %s\n", record.Site{Zone: cfg.Site.Zone}.Stamp(one.At), one.Folder)
	}
	if len(all) == 0 {
		fmt.Fprintf(t.out, "no copy is in %s\n", folder)
	}
	return nil
}

// contents says what a copy holds.
func contents(found store.Copied, site record.Site) string {
	newest := "nothing was taken in yet"
	if !found.Newest.IsZero() {
		newest = "the newest input of " + site.Stamp(found.Newest)
	}
	return fmt.Sprintf("whole: %s, %s, %s of the journal that follow from each other; %s; %.1f MB",
		count(int(found.Readings), "reading"), count(int(found.Commands), "command"), count(int(found.JournalLines), "line"), newest, float64(found.Bytes)/1e6)
}

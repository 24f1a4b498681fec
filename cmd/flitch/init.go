package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/keyfile"
	"flitch/store"
)

type initCommand struct {
	Dir      string `arg:"" optional:"" help:"Folder to write to; made if it is not there."`
	Database string `help:"Only an empty database, for a configuration that is there." placeholder:"FILE"`
	Name     string `help:"Name of the site; the name of the folder when left out." placeholder:"TEXT"`
}

// Help shows an example.
func (initCommand) Help() string {
	return "Nothing that is already there is touched.\n\nExample:\n\n    flitch init larder --name \"Oddwick Lane Larder\"\n    flitch init --database larder/flitch.db"
}

// Run writes the database first: a configuration without one would look done.
func (c initCommand) Run(t terminal) error {
	switch {
	case (c.Dir == "") == (c.Database == ""):
		return problem("flitch init DIR, or flitch init --database FILE", "a folder or a database, one of the two")
	case c.Database != "":
		return c.onlyDatabase(t)
	}
	file, database := filepath.Join(c.Dir, "flitch.toml"), filepath.Join(c.Dir, "flitch.db")
	if _, err := os.Lstat(file); err == nil {
		return alreadyThere("folder", file)
	}
	if err := os.MkdirAll(c.Dir, 0o755); err != nil {
		return problem("a folder that you may write to: flitch init larder", "making the folder: %v", err)
	}
	switch err := store.Create(database); { // an empty one is what an init leaves that was cut off: taken
	case errors.Is(err, fs.ErrExist):
		return alreadyThere("folder", database)
	case err != nil:
		return problem("a folder that you may write to: flitch init larder", "making the database: %v", err)
	}
	if err := keyfile.Write(file, []byte(config.Sample(c.siteName())), 0o644); err != nil {
		return errors.Join(err, os.Remove(database)) // else the next try would be refused
	}
	fmt.Fprintf(t.out, "wrote %s and %s\nnext:\n  flitch check --config %s\n  flitch run --config %s\n", file, database, file, file)
	return nil
}

// onlyDatabase makes the database of a configuration that somebody wrote or moved. It
// never takes the place of one.
func (c initCommand) onlyDatabase(t terminal) error {
	err := store.Create(c.Database)
	if errors.Is(err, fs.ErrExist) {
		return alreadyThere("name", c.Database)
	}
	if err != nil {
		return problem("--database with a file in a folder that is there and can be written: larder/flitch.db", "making the database: %v", err)
	}
	_, err = fmt.Fprintf(t.out, "wrote %s\n", c.Database)
	return err
}

func alreadyThere(other, path string) error {
	return problem("another "+other+", or move it away", "%s is already there", path)
}

func (c initCommand) siteName() string {
	if c.Name != "" {
		return c.Name
	}
	full, err := filepath.Abs(c.Dir)
	if err != nil {
		return ""
	}
	return filepath.Base(full)
}

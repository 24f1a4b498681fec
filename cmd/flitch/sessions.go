package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"flitch/cmd/flitch/internal/keyfile"
)

// sessionFile is where the tokens of this person lie, one for each daemon, readable by
// nobody else.
func (d *daemon) sessionFile() string {
	home := d.env("XDG_CONFIG_HOME") // XDG base directory specification
	if home == "" {
		home = filepath.Join(d.env("HOME"), ".config")
	}
	return filepath.Join(home, "flitch", "sessions.json")
}

// session returns the token for this daemon; empty when there is none.
func (d *daemon) session() string {
	all, err := d.sessions()
	if err != nil {
		return "" // the daemon then says what to do
	}
	return all[d.name]
}

func (d *daemon) sessions() (map[string]string, error) {
	all := map[string]string{}
	text, err := os.ReadFile(d.sessionFile())
	if errors.Is(err, fs.ErrNotExist) {
		return all, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &all)
	}
	if err != nil {
		return nil, fmt.Errorf("reading %s: %w", d.sessionFile(), err)
	}
	return all, nil
}

// keepSession stores the token; an empty one takes it away.
func (d *daemon) keepSession(token string) error {
	all, err := d.sessions()
	if err != nil {
		all = map[string]string{} // what cannot be read is of no use
	}
	if all[d.name] = token; token == "" {
		delete(all, d.name)
	}
	text, err := json.Marshal(all)
	if err == nil {
		err = os.MkdirAll(filepath.Dir(d.sessionFile()), 0o700)
	}
	if err == nil {
		err = keyfile.Write(d.sessionFile(), text, 0o600)
	}
	return err
}

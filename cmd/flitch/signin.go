package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/term"
)

type signInCommand struct {
	daemonFlags
	By  string `help:"Your initials ($FLITCH_BY)." placeholder:"INITIALS"`
	Out bool   `help:"Sign out instead."`
}

// Help shows an example.
func (signInCommand) Help() string {
	return "Asks for the password, or reads it from the input. The commands that follow are then yours, for two months.\n\nExample:\n\n    flitch sign-in --by T.V. --url https://smokehouse.lan:8411"
}

// Run signs in or out.
func (c signInCommand) Run(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	if c.Out {
		if err := daemon.keepSession(""); err != nil {
			return err
		}
		_, err = fmt.Fprintf(t.out, "signed out of %s\n", daemon.name)
		return err
	}
	by, err := orderFlags{By: c.By}.signature(t)
	if err != nil {
		return err
	}
	password, err := t.secret("password of " + by + ": ")
	if err != nil {
		return err
	}
	var answer struct {
		Token string `json:"token"`
		Ends  string `json:"ends"`
	}
	body, err := json.Marshal(map[string]string{"by": by, "password": password})
	if err == nil {
		err = daemon.silent(daemon.postOnce("/api/sign-in", body, &answer), false)
	}
	if err == nil {
		err = daemon.keepSession(answer.Token)
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(t.out, "%s is signed in to %s until %s\n", by, daemon.name, answer.Ends)
	return err
}

// secret asks for a password, unseen where a person types it.
func (t terminal) secret(question string) (string, error) {
	if t.in == nil {
		return "", problem("at a terminal, or with the password as the input", "there is nobody to ask")
	}
	if !term.IsTerminal(int(t.in.Fd())) {
		line, err := bufio.NewReader(io.LimitReader(t.in, 4096)).ReadString('\n')
		if err != nil && !errors.Is(err, io.EOF) {
			return "", fmt.Errorf("reading the password: %w", err)
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	fmt.Fprint(t.err, question)
	text, err := term.ReadPassword(int(t.in.Fd()))
	fmt.Fprintln(t.err)
	if err != nil {
		return "", fmt.Errorf("reading the password: %w", err)
	}
	return string(text), nil
}

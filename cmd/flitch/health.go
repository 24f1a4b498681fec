package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"
)

// healthPatience is how long a daemon that works takes to answer at most: a proposal.
const healthPatience = 10 * time.Second

type healthCommand struct {
	daemonFlags
	Alive bool `help:"Only whether the daemon answers: what it has to tell is no reason to start it again."`
}

// Help shows an example.
func (healthCommand) Help() string {
	return "Asks the daemon what is wrong: disk, broker, phones, backups. The exit code is 1 when something is, or when it does not answer. " +
		"With --alive it is 1 only when it does not answer: for whoever starts it again then.\n\nExample:\n\n    flitch health --config flitch.toml\n    flitch health --alive"
}

// Run asks once.
func (c healthCommand) Run(t terminal) error {
	d, err := c.daemon(t)
	if err != nil {
		return err
	}
	said, err := d.health()
	if err != nil {
		return err
	}
	for _, fault := range said.Faults {
		fmt.Fprintf(t.out, "%s: %s\n", shown(fault.Name), shown(fault.Text))
	}
	switch {
	case len(said.Faults) == 0:
		fmt.Fprintln(t.out, "it answers, nothing is wrong with it")
	case !c.Alive:
		return problem("flitch alarms, which says what to do first", "%s wrong", count(len(said.Faults), "thing"))
	}
	return nil
}

// wellbeing is the answer of /healthz.
type wellbeing struct {
	OK     *bool `json:"ok"`
	Faults []struct{ Name, Text string }
}

// health asks /healthz, whose bad answer is an answer too.
func (d *daemon) health() (said wellbeing, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), healthPatience)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, d.base+"/healthz", nil)
	if err != nil {
		return said, fmt.Errorf("asking the daemon: %w", err)
	}
	answer, err := d.client.Do(request)
	if err != nil {
		return said, d.silent(err, false)
	}
	defer answer.Body.Close()
	if answer.StatusCode != http.StatusOK && answer.StatusCode != http.StatusServiceUnavailable {
		return said, d.strange(answer.Status)
	}
	if err := json.NewDecoder(io.LimitReader(answer.Body, maxAnswer)).Decode(&said); err != nil || said.OK == nil {
		return said, d.strange("an answer that is not that of flitch")
	}
	return said, nil
}

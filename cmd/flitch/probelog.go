package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
)

type probeLogCommand struct {
	Probe string `arg:"" help:"Name of the probe, as in flitch probe list."`
	daemonFlags
}

// Help shows an example.
func (probeLogCommand) Help() string {
	return "A line for each check: who, when, what it read, and the correction before and after it. Example:\n\n    flitch probe log core-1"
}

// Run prints the checks of one probe, the oldest first.
func (c probeLogCommand) Run(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	probe, err := daemon.probe(c.Probe)
	if err != nil {
		return err
	}
	if len(probe.Checks) == 0 {
		_, err := fmt.Fprintf(t.out, "%s was not checked yet\n", c.Probe)
		return err
	}
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "WHEN\tBY\tREAD\tBEFORE\tAFTER\tCAME TO\tBATCHES IN DOUBT\tTEXT")
	for _, k := range probe.Checks {
		batches := "-"
		if k.Result != nil && len(k.Result.Batches) > 0 {
			batches = strings.Join(k.Result.Batches, ", ")
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", daemon.clock(k.At), shown(k.By), readings(k), k.Before().Words(), k.After().Words(), k.Verdict(), shown(batches), shown(k.Text))
	}
	if err := table.Flush(); err != nil || len(probe.Batches) == 0 {
		return err
	}
	_, err = fmt.Fprintf(t.out, "\nmeasured since its last good check: %s\n", shown(strings.Join(probe.Batches, ", ")))
	return err
}

// readings are what the probe said at each point, and what it was.
func readings(k process.ProbeCheck) string {
	var parts []string
	for _, p := range k.Points() {
		parts = append(parts, fmt.Sprintf("%s %.2f for %.2f °C", p.Method, p.ReadC, p.TrueC))
	}
	return strings.Join(parts, ", ")
}

// probe is one probe of the daemon.
func (d *daemon) probe(name string) (api.Probe, error) {
	var probes []api.Probe
	if err := d.get("/api/probes", &probes); err != nil {
		return api.Probe{}, err
	}
	for _, p := range probes {
		if p.Probe == name {
			return p, nil
		}
	}
	return api.Probe{}, problem("flitch probe list", "there is no probe %q", name)
}

package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"flitch/cmd/flitch/internal/api"
	"flitch/process"
	"flitch/process/record"
)

// probeCommands is the table under "flitch probe".
type probeCommands struct {
	Check probeCheckCommand `cmd:"" aliases:"checked" help:"Say what a probe read in ice, in boiling water or beside a thermometer, and correct it."`
	Unit  probeUnitCommand  `cmd:"" help:"Say which unit a sensor sends now, when that is asked."`
	List  probeListCommand  `cmd:"" help:"List the probes, what they read, their last good check and the next."`
	Log   probeLogCommand   `cmd:"" help:"List the checks of one probe, with the correction before and after each."`
	Try   probeTryCommand   `cmd:"" help:"Show what the probes would take from a message, without a daemon."`
}

type probeListCommand struct {
	daemonFlags
}

// Help shows an example.
func (probeListCommand) Help() string { return "Example:\n\n    flitch probe list" }

// Run prints the probes in the order of the configuration.
func (c probeListCommand) Run(t terminal) error {
	daemon, err := c.daemon(t)
	if err != nil {
		return err
	}
	var probes []api.Probe
	if err := daemon.get("/api/probes", &probes); err != nil {
		return err
	}
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "PROBE\tPLACE\tMEASURES\tREADS\tHEARD\tLAST GOOD CHECK\tNEXT CHECK\tBATTERY\tSIGNAL\t")
	for _, p := range probes {
		good, state := "none", wordOf(p)
		if p.LastGood != nil {
			good = daemon.clock(p.LastGood.At) + " by " + p.LastGood.By
		}
		switch {
		case p.Failed != nil:
			state = strings.TrimSuffix("OUT OF USE: "+p.Failed.Words()+"; "+state, "; ")
		case !p.Correction.None():
			state = strings.TrimSuffix("corrected: "+p.Correction.Words()+"; "+state, "; ")
		}
		if p.Unit.Open() {
			state = "ASKED: " + p.Unit.WordsIn(record.Site{Fahrenheit: daemon.fahrenheit}.Temp) + ". Answer: flitch probe unit " + p.Probe + " F, or C"
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.Probe, p.Place, p.Placement, reads(p), daemon.clock(p.Heard), good, daemon.clock(p.Due), told(p.Battery), told(p.Signal), state)
	}
	return table.Flush()
}

// wordOf is what the device of a probe last said of itself, when that matters.
func wordOf(p api.Probe) string {
	switch {
	case p.Absent.Lasts():
		return "GONE: " + p.Absent.Words
	case p.Asks != "":
		return "ASKS FOR A PERSON: " + p.Asks
	case p.Refused != "":
		return "NOT READ: " + strings.ReplaceAll(p.Refused, "\n", "; ")
	}
	return ""
}

// reads is what the probe last said, as flitch shows it.
func reads(p api.Probe) string {
	if p.SentAt.IsZero() {
		return "-"
	}
	return fmt.Sprintf("%.1f %s", p.ReadsC, record.UnitOf(p.Placement))
}

func told(v *process.KnownVital) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.4g %s", v.Value, v.Unit)
}

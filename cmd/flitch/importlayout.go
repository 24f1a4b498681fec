package main

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/readout"
	"flitch/process"
)

// layout says how the file is to be read. What is missing is asked for all at once, with
// the beginning of the file beside it.
func (c importCommand) layout(file *os.File, d *daemon) (readout.Layout, api.Probe, error) {
	l := readout.Layout{Heading: c.Heading, Time: c.Time, Value: c.Value, Decimal: c.Decimal, Format: c.TimeFormat, Unit: c.Unit}
	if err := c.plainOptions(&l); err != nil {
		return l, api.Probe{}, err
	}
	look, err := readout.LookAt(file, c.Heading, l.Delimiter)
	if err != nil {
		return l, api.Probe{}, problem("another file, or --heading with the line of the heads", "%s: %v", c.File, err)
	}
	if _, err := file.Seek(0, io.SeekStart); err != nil {
		return l, api.Probe{}, err
	}
	l.Delimiter = look.Delimiter
	var probes []api.Probe
	if err := d.get("/api/probes", &probes); err != nil {
		return l, api.Probe{}, err
	}
	at := slices.IndexFunc(probes, func(p api.Probe) bool { return p.Probe == c.Probe })
	if c.Probe != "" && at < 0 {
		return l, api.Probe{}, misuse("--probe with "+namesOf(probes), "there is no probe %q", c.Probe)
	}
	var probe api.Probe
	if at >= 0 {
		probe = probes[at]
	}
	l.Placement = probe.Placement
	if err := c.ask(look, probes, probe, d); err != nil {
		return l, probe, err
	}
	if _, err := readout.Value(probe.Placement, "1", c.Unit); err != nil {
		return l, probe, misuse("--unit "+unitsOf(probe.Placement), "%s is %s: --unit %q does not fit", probe.Probe, probe.Placement, c.Unit)
	}
	return l, probe, nil
}

// namesOf lists the probes to choose from.
func namesOf(probes []api.Probe) string {
	var names []string
	for _, p := range probes {
		names = append(names, p.Probe)
	}
	return "one of " + strings.Join(names, ", ")
}

// plainOptions reads what needs no look at the file.
func (c importCommand) plainOptions(l *readout.Layout) (err error) {
	if c.Decimal != "." && c.Decimal != "," {
		return misuse(`--decimal . or --decimal ,`, "--decimal %s: is neither a point nor a comma", c.Decimal)
	}
	if c.Heading < 0 || c.FromLine < 0 {
		return misuse("--heading 1", "lines are counted from 1")
	}
	if l.Zone, err = readZone(c.Zone); err != nil {
		return err
	}
	if c.Delimiter == "" {
		return nil
	}
	known := false
	if l.Delimiter, known = readout.Delimiters[c.Delimiter]; !known {
		return misuse("--delimiter comma, semicolon or tab", "--delimiter %s: is not one of them", c.Delimiter)
	}
	return nil
}

// ask lists everything that the file does not say and nobody said.
func (c importCommand) ask(look readout.Look, probes []api.Probe, probe api.Probe, d *daemon) error {
	var missing []string
	if c.Probe == "" {
		missing = append(missing, "--probe "+namesOf(probes))
	}
	if len(c.Time) == 0 {
		missing = append(missing, "--time COLUMN")
	}
	if c.Value == "" {
		missing = append(missing, "--value COLUMN")
	}
	if c.Unit == "" && probe.Placement != process.Door && probe.Placement != process.Power {
		missing = append(missing, "--unit "+unitsOf(probe.Placement))
	}
	named := slices.Contains([]string{readout.RFC3339, readout.Unix, readout.UnixMS}, c.TimeFormat)
	if c.TimeFormat == "" {
		missing = append(missing, `--time-format rfc3339, unix, unix-ms or a pattern such as "DD.MM.YYYY hh:mm:ss"`)
	}
	if c.Zone == "" && !named {
		missing = append(missing, fmt.Sprintf("--zone of the logger's clock, if the times do not say it: %s here", d.zone))
	}
	if len(missing) == 0 {
		return nil
	}
	text := fmt.Sprintf("%s, parted by %s; its columns are %s", c.File, readout.DelimiterName(look.Delimiter), readout.Numbered(look.Heads))
	if len(look.First) > 0 {
		text += fmt.Sprintf("; the first row has %s", readout.Numbered(look.First))
	}
	return misuse(strings.Join(missing, "   "), "%s", text)
}

// unitsOf are the units that a placement can have been written in.
func unitsOf(p process.Placement) string {
	switch {
	case p.IsTemperature():
		return "C, F or K"
	case p == process.Humidity:
		return "%"
	case p == process.Weight:
		return "g, kg, lb, oz or mg"
	case p == process.Power:
		return "W or kW, or none for 1 and 0"
	case p == process.Door:
		return "left out: 1 is open, 0 is closed"
	}
	return "C, F or K for a temperature"
}

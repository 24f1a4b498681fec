package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/rehearsal"
	"flitch/process/plans"
	"flitch/process/scenario"
)

type rehearseCommand struct {
	File   string `arg:"" help:"The night: what the probes said, what people did, what you expect." placeholder:"FILE"`
	JSON   bool   `name:"json" help:"Print everything as JSON."`
	Config string `help:"Rehearse with the people, channels, limits and fuel of this configuration, whatever the night names." placeholder:"FILE"`
	Format bool   `help:"Print the file in its usual form and rehearse nothing."`
}

// Help shows an example.
func (rehearseCommand) Help() string {
	return "Runs a night that you wrote down through the same evaluation as the daemon, with a pretend phone: what would have rung, when, and whether that is what you expect. " +
		"The exit code is 1 when an expectation is not met.\n\nA file:\n\n" +
		"    begins 2031-04-07T20:00:00+02:00\n    plan belly-dry-cured\n    piece A 2268g 38mm\n    fridge alder\n    probe bottle product in alder every 1m\n\n" +
		"    from 20:00 to 02:00 bottle hold 3C noise 0.1C\n    from 02:00 to 06:00 bottle 3C -> 9C\n    04:30 acknowledged C2\n\n    expect 04:00..05:00 C2 ring" +
		"\n\nOther lines of the middle part:\n\n" +
		"    20:05 stage smoke\n    20:10 turned A typed 21:00\n    20:15 weighed A 1890g\n    20:20 dosed A 5.7g asked 5.7g nitrite 6.25% rule us\n" +
		"    20:25 checked bottle ice 0.3C\n    20:30 counted 6\n    20:35 hand-reading core A 61.5C\n    20:40 note \"relit\"\n    20:45 door door-switch open\n" +
		"    20:50 duty until 07:00 by M.O.\n    20:55 shelved C1 of alder until 23:00 \"loading\"\n    21:00 sensor bottle gone\n" +
		"    21:05 battery bottle 14% low 20%\n    21:10 lost broker\n    21:15 back broker\n    21:20 spike bottle 85C\n" +
		"    from 22:00 to 23:00 gap bottle\n    from 23:00 to 23:30 late bottle arrives 23:40\n    from 23:00 to 03:00 phone away" +
		"\n\nExamples:\n\n    flitch rehearse my-night.txt\n    flitch rehearse my-night.txt --config flitch.toml"
}

// Run rehearses and prints.
func (c rehearseCommand) Run(t terminal) error {
	text, err := readFile(c.File)
	if err != nil {
		return problem("flitch rehearse FILE", "%v", err)
	}
	s, err := scenario.Parse(string(text))
	if err != nil {
		return problem("", "%s: %s", c.File, strings.ReplaceAll(err.Error(), "\n", "\n  "))
	}
	if c.Format {
		_, err := fmt.Fprint(t.out, scenario.Format(s))
		return err
	}
	report, zone, err := c.rehearse(s)
	if err != nil {
		return err
	}
	if c.JSON {
		err = writeJSON(t.out, report)
	} else {
		err = printRehearsal(t.out, report, zone)
	}
	if err == nil && report.Unmet > 0 {
		err = problem("", "%d of %d expectations not met", report.Unmet, len(report.Expectations))
	}
	return err
}

// rehearse finds the plan and the zone that a scenario names, and the house of a
// configuration.
func (c rehearseCommand) rehearse(s *scenario.Scenario) (*rehearsal.Report, *time.Location, error) {
	plan, err := readPlan(s.Plan)
	if err != nil {
		return nil, nil, problem("one of "+strings.Join(plans.Names(), ", "), "plan %s: %v", s.Plan, err)
	}
	zone := s.Begins.Location()
	if s.Zone != "" {
		if zone, err = time.LoadLocation(s.Zone); err != nil {
			return nil, nil, problem("zone Europe/Vienna", "zone %s: %v", s.Zone, err)
		}
	}
	if c.Config == "" {
		report, err := rehearsal.Run(s, plan, zone)
		return report, zone, err
	}
	loaded, err := daemonFlags{Config: c.Config}.load()
	if err != nil {
		return nil, nil, err
	}
	if err := placesKnown(s, loaded); err != nil {
		return nil, nil, err
	}
	house := rehearsal.House{Policy: loaded.Policy(), Catalogue: loaded.Catalogue(), Changes: loaded.Changes()}
	report, err := rehearsal.RunIn(house, s, plan)
	return report, loaded.Site.Zone, err
}

// placesKnown refuses a night in a place that the configuration does not have: its
// limits would be tried out nowhere.
func placesKnown(s *scenario.Scenario, c *config.Config) error {
	var known []string
	for _, p := range c.Places {
		known = append(known, string(p.Kind)+" "+p.Name)
	}
	for _, p := range s.Places {
		if name := string(p.Kind) + " " + p.Name; !slices.Contains(known, name) {
			return problem("one of its places in the night: "+strings.Join(known, ", "), "%s has no %s", c.Path, name)
		}
	}
	return nil
}

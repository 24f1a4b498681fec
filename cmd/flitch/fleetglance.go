package main

import (
	"fmt"
	"text/tabwriter"
	"time"

	"flitch/cmd/flitch/internal/web"
	"flitch/store/fleet"
)

type fleetGlanceCommand struct {
	onlyFleet
	All bool `help:"Also what was sent under a name before another installation took it over."`
}

// Help shows an example.
func (fleetGlanceCommand) Help() string {
	return "What a site says is as old as the column HEARD tells. One that was not heard for three of its turns, and five minutes, is never fine.\n\nExample:\n\n" +
		"    flitch fleet glance --database-file secrets/fleet\n    flitch fleet glance --site larder --json"
}

// silentAfter is from when on a site is not heard: it may miss two turns. Proposal.
func silentAfter(s *fleet.Site) time.Duration { return max(3*s.Every, 5*time.Minute) }

// The words that stand for a site beside those of its page.
const (
	notHeard = "not heard"
	ringing  = "ringing"
	unknown  = "nothing told"
	takenBy  = "taken over"
)

// A siteGlance is one site, as it is printed.
type siteGlance struct {
	Site   string        `json:"site"`
	State  string        `json:"state"`         // fine, look, blind, ringing, not heard, nothing told, taken over
	Was    string        `json:"was,omitempty"` // what a site that is not heard said last
	Since  time.Time     `json:"since,omitzero"`
	Why    string        `json:"why,omitempty"`
	Heard  time.Time     `json:"heard"` // by the clock of PostgreSQL
	AgeS   float64       `json:"age_s"`
	LogAt  time.Time     `json:"readings_until,omitzero"` // when the last row that is there was taken in
	Glance *fleet.Glance `json:"glance,omitempty"`
}

func glanceOf(s *fleet.Site) siteGlance {
	g := siteGlance{Site: s.Name, State: unknown, Heard: s.Heard.UTC(), AgeS: s.Age.Seconds(), LogAt: s.LogAt, Glance: s.Glance}
	if s.Glance != nil {
		g.State, g.Since, g.Why = s.Glance.State, s.Glance.Since, s.Glance.Why
		if g.State == string(web.Now) {
			g.State = ringing
		}
	}
	switch {
	case s.Retired:
		g.State, g.Was = takenBy, g.State
	case s.Age > silentAfter(s):
		g.State, g.Was = notHeard, g.State
	}
	return g
}

// Run prints one line a site, and one for each batch that wants something.
func (c fleetGlanceCommand) Run(t terminal) error {
	glances := []siteGlance{}
	err := c.each(t, c.All, func(s *fleet.Site) error {
		glances = append(glances, glanceOf(s))
		return nil
	})
	if err != nil {
		return err
	}
	if c.JSON {
		return inJSON(t, glances)
	}
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "SITE\tSTATE\tSINCE\tHEARD\tBATCHES\tWHY")
	for _, g := range glances {
		state, batches := g.State, 0
		if g.Was != "" {
			state += ", was " + g.Was
		}
		if g.Glance != nil {
			batches = len(g.Glance.Batches)
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s ago\t%d\t%s\n", shown(g.Site), shown(state), stamp(g.Since), ago(time.Duration(g.AgeS*float64(time.Second))), batches, shown(g.Why))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	return alarmsOf(t, glances)
}

// alarmsOf lists what stands, site by site.
func alarmsOf(t terminal, glances []siteGlance) error {
	table := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	head := "\nSITE\tALARM\tSINCE\tWHAT\tANSWERED"
	for _, g := range glances {
		if g.Glance == nil {
			continue
		}
		for _, a := range g.Glance.Alarms {
			if head != "" {
				fmt.Fprintln(table, head)
				head = ""
			}
			fmt.Fprintf(table, "%s\t%s %s\t%s\t%s: %s\t%s\n", shown(g.Site), shown(a.Entry), shown(a.Level), stamp(a.Since), shown(a.Title), shown(a.Subject), shown(a.Answered))
		}
	}
	return table.Flush()
}

// stamp is a moment with its offset, by the zone of this machine.
func stamp(at time.Time) string { return (&daemon{zone: time.Local}).clock(at) }

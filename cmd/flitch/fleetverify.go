package main

import (
	"fmt"

	"flitch/cmd/flitch/internal/verify"
	"flitch/process/evidence"
	"flitch/store/fleet"
)

type fleetVerifyCommand struct {
	onlyFleet
	Key []string `help:"Fingerprint of the key that should have signed, or a file with the public key; once for each site." placeholder:"KEY" sep:"none"`
}

// Help says what is looked at.
func (fleetVerifyCommand) Help() string {
	return "Of each site, from what it has sent: the chain of the journal, every seal over readings and entries, the signatures, every clock computed anew, " +
		"and the record and proof of every closed batch. It changes nothing and ends with 1 when anything is not met.\n\nExample:\n\n" +
		"    flitch fleet verify --database-file secrets/fleet\n    flitch fleet verify --site larder --key SHA256:0123..."
}

// siteReport is what was found of one site.
type siteReport struct {
	Site   string          `json:"site"`
	Report evidence.Report `json:"report"`
}

// Run looks at all of it.
func (c fleetVerifyCommand) Run(t terminal) error {
	given, err := verifyCommand{Key: c.Key}.given()
	if err != nil {
		return err
	}
	ctx, stop := interrupted()
	defer stop()
	r, sites, err := c.sites(ctx, t)
	if err != nil {
		return err
	}
	defer r.Close()
	var all []siteReport
	bad := ""
	for _, s := range sites {
		report, err := verify.Site(ctx, s, given)
		if err != nil {
			return complain(err)
		}
		if first := report.First(); first != nil && bad == "" {
			bad = fmt.Sprintf("%s: %s: %s", s.Name, first.What, first.Text)
		}
		if all = append(all, siteReport{s.Name, report}); !c.JSON {
			c.print(t, s, report)
		}
	}
	if c.JSON {
		if err := inJSON(t, all); err != nil {
			return err
		}
	} else {
		fmt.Fprintln(t.out, "What this does not show:")
		for _, text := range append(evidence.Limits[:len(evidence.Limits):len(evidence.Limits)], "What a site says in its glance, and what alarms stand there, is under no seal; what rang is in its journal.",
			"What a site has not sent yet is not here: a line that is out shows as the end of what was sent.") {
			fmt.Fprintln(t.out, "-", text)
		}
	}
	if bad != "" {
		return problem("", "not everything is as it was written; first: %s", bad)
	}
	return nil
}

func (fleetVerifyCommand) print(t terminal, s *fleet.Site, report evidence.Report) {
	fmt.Fprintf(t.out, "site %s, heard %s ago\n", shown(s.Name), ago(s.Age))
	for _, f := range report {
		fmt.Fprintln(t.out, shown(f.String()))
	}
	fmt.Fprintln(t.out)
}

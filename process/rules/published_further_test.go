package rules

import (
	"math"
	"strings"

	"flitch/testdata/published"
)

// checkHumidity holds each option against the guideline's words and numbers.
func checkHumidity(c *published.Check) {
	names := HumidityNames()
	if len(names) != len(c.Rows) {
		c.T.Fatalf("%d options, want %d", len(names), len(c.Rows))
	}
	for i, row := range c.Rows {
		h, ok := Humidity(row.Text(c.T, "id"))
		c.Holds(row, ok && h.ID == names[i], "%+v is not option %d", h, i)
		for column, got := range map[string]float64{
			"rh_pct": h.LeastRH, "share_pct": 100 * h.LeastShare, "hours": h.LeastHours, "cook_time_h": h.LeastCookHours,
			"wet_bulb_low_f": fahrenheit(h.LeastWetBulbC), "endpoint_f": fahrenheit(h.EndpointC),
		} {
			if row.Text(c.T, column) != "" {
				c.Near(row, column, got)
				continue
			}
			c.Holds(row, got == 0, "%s is %v, the table asks for none", column, got)
		}
		if printed := row.NumOr(c.T, "wet_bulb_low_c", 0); math.Round(h.LeastWetBulbC) != printed {
			c.T.Errorf("%s: wet bulb %v °C, printed %v", row.Where(), h.LeastWetBulbC, printed)
		}
		asked := row.Text(c.T, "requirement")
		c.Holds(row, h.WholeCook == strings.Contains(asked, "entire cook"), "whole cook is %v", h.WholeCook)
		c.Holds(row, strings.Contains(h.Note, "not sufficient alone") == strings.Contains(asked, "not sufficient alone"), "the caution is lost")
		sameOrigin(c, row, h.Source, h.Provenance)
	}
}

// checkEndpoint holds the endpoint of the first two options against the column of
// the meat table that says at which rows they are allowed.
func checkEndpoint(c *published.Check, row published.Row, r Row) {
	for _, id := range []string{"steam", "sealed"} {
		h, ok := Humidity(id)
		allowed := ok && r.TempC >= h.EndpointC-rounding
		c.Holds(row, allowed == (row.Text(c.T, "rh_options_1_2_allowed") == "yes"), "%s is allowed: %v", id, allowed)
	}
}

// fahrenheit leaves 0, which is "not asked".
func fahrenheit(c float64) float64 {
	if c == 0 {
		return 0
	}
	return c*1.8 + 32
}

func checkSmokedFish(c *published.Check) {
	rows, _ := Lethality(smokedFishTable)
	chill, ok := ChillOption("fish")
	if len(rows) != 1 || !ok || len(chill.Legs) != 2 || len(c.Rows) != 2 {
		c.T.Fatalf("%d rows, chill %+v, %d in the table", len(rows), chill, len(c.Rows))
	}
	for _, row := range c.Rows {
		switch what := row.Text(c.T, "what"); what {
		case "cook":
			c.Near(row, "temp_f", rows[0].TempC*1.8+32)
			c.Near(row, "minutes", rows[0].Minutes)
			sameOrigin(c, row, rows[0].Source, rows[0].Provenance)
		case "chill":
			checkLeg(c, row, "stage1", chill.Legs[0])
			checkLeg(c, row, "stage2", chill.Legs[1])
			c.Holds(row, chill.Legs[0].FromStart && !chill.Legs[1].FromStart, "legs %+v", chill.Legs)
			c.Holds(row, chill.TotalMaxHours == row.Num(c.T, "stage1_max_h")+row.Num(c.T, "stage2_max_h"), "%v h in all", chill.TotalMaxHours)
			sameOrigin(c, row, chill.Source, chill.Provenance)
		default:
			c.T.Errorf("%s: %q", row.Where(), what)
		}
	}
}

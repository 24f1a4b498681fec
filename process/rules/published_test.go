package rules

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"flitch/testdata/published"
)

// Every table against its published copy, which gives the printed times as numbers
// too.
func TestPublished(t *testing.T) {
	r := published.Open(t, "process/rules")
	r.Check("cooking, meat table", "fsis_lethality_meat.csv", published.Abs(5.1e-5), checkMeat)
	r.Check("cooking, chicken by fat", "fsis_lethality_chicken.csv", published.Abs(5.1e-5), func(c *published.Check) { checkPoultry(c, "chicken") })
	r.Check("cooking, turkey by fat", "fsis_lethality_turkey.csv", published.Abs(5.1e-5), func(c *published.Check) { checkPoultry(c, "turkey") })
	r.Check("cooking, Food Code", "foodcode_cook.csv", published.Abs(1e-9), checkFoodCode)
	r.Check("cooking against Trichinella", "trichina_cook.csv", published.Abs(1e-9), checkTrichinaCook)
	r.Check("the same rule beside the regression", "trichinae.csv", published.Abs(1e-9), checkTrichinae)
	r.Check("freezing against Trichinella", "trichina_freeze.csv", published.Abs(1e-9), checkFreezing)
	r.Check("nitrite, nitrate and ascorbate", "nitrite_limits.csv", published.Abs(1e-9), checkNitrite)
	r.Check("degree-hours, limits and form", "degree_hours.csv", published.Abs(1e-9), checkDegreeHours)
	r.Check("chill options", "fsis_stabilization.csv", published.Abs(1e-9), checkChill)
	r.Check("humidity options", "humidity.csv", published.Abs(1e-9), checkHumidity)
	r.Check("smoked fish, cooking and chill", "smoked_fish.csv", published.Abs(1e-9), checkSmokedFish)
	r.Close()
}

func meatTables() []string {
	var names []string
	for _, c := range meatColumns {
		names = append(names, c.name)
	}
	return names
}

func sameOrigin(c *published.Check, row published.Row, source, provenance string) {
	if source != row.Text(c.T, "source") || provenance != row.Text(c.T, "provenance") {
		c.T.Errorf("%s: source or provenance differ", row.Where())
	}
}

func checkMeat(c *published.Check) {
	for _, name := range meatTables() {
		rows, ok := Lethality(name)
		if !ok || len(rows) != len(c.Rows) {
			c.T.Fatalf("%s: %d rows, want %d", name, len(rows), len(c.Rows))
		}
		column := "minutes_" + strings.ReplaceAll(strings.TrimPrefix(name, "fsis-meat-"), ".", "_") + "log"
		for i, row := range c.Rows {
			c.Near(row, "temp_f", rows[i].TempC*1.8+32)
			c.Near(row, column, rows[i].Minutes)
			sameOrigin(c, row, rows[i].Source, rows[i].Provenance)
			checkEndpoint(c, row, rows[i])
		}
	}
}

func checkPoultry(c *published.Check, species string) {
	at := map[string]int{}
	for _, row := range c.Rows {
		name := poultryTable(species, row.Text(c.T, "fat_pct"))
		rows, ok := Lethality(name)
		i := at[name]
		if at[name]++; !ok || i >= len(rows) {
			c.T.Fatalf("%s: %s has %d rows", row.Where(), name, len(rows))
		}
		c.Near(row, "temp_f", rows[i].TempC*1.8+32)
		c.Near(row, "minutes_7log", rows[i].Minutes)
		sameOrigin(c, row, rows[i].Source, rows[i].Provenance)
	}
	for name, n := range at {
		if rows, _ := Lethality(name); len(rows) != n {
			c.T.Errorf("%s: %d rows, the published table has %d", name, len(rows), n)
		}
	}
}

func checkFoodCode(c *published.Check) {
	all := FoodCode()
	if len(all) != len(c.Rows) {
		c.T.Fatalf("%d lines, want %d", len(all), len(c.Rows))
	}
	for i, row := range c.Rows {
		rule := all[i]
		c.Near(row, "temp_f", rule.Row.TempC*1.8+32)
		c.Near(row, "time_seconds", rule.Row.Minutes*60)
		c.Holds(row, rule.Printed == row.Text(c.T, "time_printed") && rule.Section == row.Text(c.T, "section"), "%+v", rule)
		sameOrigin(c, row, rule.Row.Source, rule.Row.Provenance)
		for _, table := range rule.Tables {
			rows, ok := Lethality(table)
			c.Holds(row, ok && slices.Contains(rows, rule.Row), "not in table %s", table)
		}
	}
}

func checkTrichinaCook(c *published.Check) {
	rows, _ := Lethality(trichinaTable)
	if len(rows) != len(c.Rows) {
		c.T.Fatalf("%d rows, want %d", len(rows), len(c.Rows))
	}
	for i, row := range c.Rows {
		c.Near(row, "temp_f", rows[i].TempC*1.8+32)
		c.Near(row, "minutes", rows[i].Minutes)
		sameOrigin(c, row, rows[i].Source, rows[i].Provenance)
	}
}

func checkTrichinae(c *published.Check) {
	rows, _ := Lethality(trichinaTable)
	for i, row := range c.Rows {
		c.Near(row, "T_F", rows[i].TempC*1.8+32)
		c.Near(row, "cfr_table_min", rows[i].Minutes)
	}
}

func checkFreezing(c *published.Check) {
	all := Freezing()
	if len(all) != len(c.Rows) {
		c.T.Fatalf("%d rows, want %d", len(all), len(c.Rows))
	}
	for i, row := range c.Rows {
		f := all[i]
		c.Near(row, "table", float64(f.Table))
		c.Near(row, "temp_f", f.TempC*1.8+32)
		c.Near(row, "hours", f.Hours)
		where := "centre"
		if f.Table == 1 {
			where = "room"
			c.Near(row, "max_thickness_in", f.MaxIn)
			c.Near(row, "days", f.Hours/24)
		}
		c.Holds(row, f.MeasuredAt == where && strings.HasPrefix(row.Text(c.T, "temp_measured_at"), where), "measured at the %s", f.MeasuredAt)
		sameOrigin(c, row, f.Source, f.Provenance)
		found, ok := FreezingFor(f.Table == 2, f.TempC, f.MaxIn)
		c.Holds(row, ok && found == f, "FreezingFor finds %+v", found)
	}
}

func checkNitrite(c *published.Check) {
	all := NitriteLimits()
	if len(all) != len(c.Rows) {
		c.T.Fatalf("%d rows, want %d", len(all), len(c.Rows))
	}
	for i, row := range c.Rows {
		l := all[i]
		c.Near(row, "ppm", l.PPM)
		c.Holds(row, l.Substance == row.Text(c.T, "substance") && l.Kind == row.Text(c.T, "limit_kind") &&
			l.Basis == row.Text(c.T, "ingoing_basis") && l.Note == row.Text(c.T, "note") &&
			l.AppliesTo == row.Text(c.T, "product")+", "+row.Text(c.T, "method"), "%+v", l)
		sameOrigin(c, row, l.Source, l.Provenance)
	}
}

func checkDegreeHours(c *published.Check) {
	ids := map[string]string{"F": "us", "C": "canada"}
	at := map[string]int{}
	for _, row := range c.Rows {
		unit := row.Text(c.T, "unit")
		r, ok := DegreeHours(ids[unit])
		if !ok {
			c.T.Fatalf("%s: no rule for °%s", row.Where(), unit)
		}
		c.Near(row, "base_temp", r.Base)
		if row.Text(c.T, "kind") == "limit" {
			l := r.Limits[at[unit]]
			at[unit]++
			c.Near(row, "limit_degree_hours", l.Limit)
			sameOrigin(c, row, l.Source, l.Provenance)
			continue
		}
		room := row.Num(c.T, "max_chamber_temp")
		c.Near(row, "limit_degree_hours", r.Limit(room).Limit)
		if form, ok := r.FormFor(room); ok && row.Text(c.T, "kind") == "table" {
			c.Near(row, "hours_to_ph5_3_or_limit", form.Hours)
			sameOrigin(c, row, form.Source, form.Provenance)
		} else if row.Text(c.T, "kind") == "table" {
			c.T.Errorf("%s: not in the form", row.Where())
		}
	}
}

func checkChill(c *published.Check) {
	if n := len(ChillNames()) - 1; n != len(c.Rows) { // that of smoked fish is checked by itself
		c.T.Errorf("%d options, the table has %d", n, len(c.Rows))
	}
	for _, row := range c.Rows {
		o, ok := ChillOption(row.Text(c.T, "id"))
		if !ok {
			c.T.Errorf("%s: no such option", row.Where())
			continue
		}
		c.Near(row, "total_max_h", o.TotalMaxHours)
		c.Near(row, "min_ingoing_nitrite_ppm", o.MinNitritePPM)
		sameOrigin(c, row, o.Source, o.Provenance)
		c.Holds(row, o.Edition == row.Text(c.T, "edition") && o.AppliesTo == row.Text(c.T, "applies_to"), "%+v", o)
		checkLegs(c, row, o)
	}
}

// checkLegs allows no leg that is not printed. A third one is printed in words.
func checkLegs(c *published.Check, row published.Row, o Chill) {
	legs := 0
	for _, stage := range []string{"stage1", "stage2"} {
		if row.Text(c.T, stage+"_to_f") != "" {
			checkLeg(c, row, stage, o.Legs[legs])
			legs++
		}
	}
	said := row.Text(c.T, "other_conditions")
	if strings.HasPrefix(said, "third stage") {
		third := o.Legs[legs]
		printed := fmt.Sprintf("third stage %.4g to %.4g F (12 to 5 C) in %v h", third.FromC*1.8+32, third.ToC*1.8+32, third.MaxHours)
		c.Holds(row, said == printed && !third.FromStart, "%s, printed %s", printed, said)
		said = ""
		legs++
	}
	c.Holds(row, len(o.Legs) == legs && o.Conditions == said, "%d legs, printed %d; %q", len(o.Legs), legs, o.Conditions)
}

func checkLeg(c *published.Check, row published.Row, stage string, leg Leg) {
	c.Near(row, stage+"_to_f", leg.ToC*1.8+32)
	c.Near(row, stage+"_max_h", leg.MaxHours)
	from := row.Text(c.T, stage+"_from_f")
	c.Holds(row, leg.FromStart == (from == "" || from == "end of cook"), "from %q", from)
	if !leg.FromStart {
		c.Near(row, stage+"_from_f", leg.FromC*1.8+32)
	}
}

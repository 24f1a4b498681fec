package rules

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// A CookRule is a line of the FDA Food Code on cooking. Where the line belongs to
// tables of Lethality, Tables names them; a line that only asks to reach or to
// stand belongs to none.
type CookRule struct {
	Tables  []string
	Section string
	Food    string // in words
	Printed string // the time as printed
	Note    string // edition, or what else it says
	Row     Row
}

//go:embed foodcode.csv
var foodCode string

// foodCodeTables are the tables of Lethality from the Food Code. A year in the name
// is the last edition with that wording; the others are those of 2017 and 2022 (the
// edition of 2022 was not read).
var foodCodeTables = [...]string{
	"foodcode-whole", "foodcode-ground", "foodcode-ground-2013", "foodcode-poultry", "foodcode-poultry-2013", "foodcode-roast",
}

// cookRules reads foodcode.csv once; nobody changes what it returns.
var cookRules = sync.OnceValues(func() ([]CookRule, error) {
	lines, err := records(foodCode)
	if err != nil {
		return nil, err
	}
	var out []CookRule
	for _, line := range lines {
		tempF, err1 := strconv.ParseFloat(line["temp_f"], 64)
		seconds, err2 := strconv.ParseFloat(line["seconds"], 64)
		if err1 != nil || err2 != nil {
			return nil, fmt.Errorf("rules: food code %s: temperature %q, seconds %q", line["section"], line["temp_f"], line["seconds"])
		}
		rule := CookRule{
			Section: line["section"], Food: line["food"], Printed: line["printed"], Note: line["note"],
			Row: Row{TempC: celsius(tempF), Minutes: seconds / 60, Source: line["source"], Provenance: line["provenance"]},
		}
		if line["tables"] != "" {
			rule.Tables = strings.Split(line["tables"], "|")
		}
		out = append(out, rule)
	}
	return out, nil
})

func readFoodCode(tables map[string][]Row) error {
	all, err := cookRules()
	if err != nil {
		return err
	}
	for _, rule := range all {
		for _, table := range rule.Tables {
			tables[table] = append(tables[table], rule.Row)
		}
	}
	return nil
}

// FoodCode returns every line of the FDA Food Code on cooking, sections 3-401.11 to
// 13, read through state adoptions. The caller owns the slice.
func FoodCode() []CookRule {
	all, err := cookRules()
	if err != nil {
		return nil
	}
	return slices.Clone(all)
}

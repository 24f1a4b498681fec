package rules

import (
	_ "embed"
	"strconv"
)

//go:embed fsis_chicken.csv
var fsisChicken string

//go:embed fsis_turkey.csv
var fsisTurkey string

// poultrySpecies are the poultry tables; the last is the longer of the others.
var poultrySpecies = [...]string{"chicken", "turkey", "poultry"}

const (
	fattest    = 12        // the fattest column of the tables, per cent
	fatUnknown = "unknown" // uses the fattest column
)

func poultryTable(species, fat string) string { return "fsis-" + species + "-7:" + fat }

// readPoultry reads a table for each species and per cent of fat. Times are not in
// order of fat around 66 °C, so columns are not interpolated either.
func readPoultry(tables map[string][]Row) error {
	for i, text := range []string{fsisChicken, fsisTurkey} {
		lines, err := records(text)
		if err != nil {
			return err
		}
		for fat := 1; fat <= fattest; fat++ {
			fat := strconv.Itoa(fat)
			if tables[poultryTable(poultrySpecies[i], fat)], err = printedRows(lines, "fat_"+fat); err != nil {
				return err
			}
		}
	}
	for fat := 1; fat <= fattest; fat++ {
		fat := strconv.Itoa(fat)
		tables[poultryTable("poultry", fat)] = longer(tables[poultryTable("chicken", fat)], tables[poultryTable("turkey", fat)])
	}
	shareFattest(tables)
	return nil
}

// longer takes, at each temperature, the row with the longer time.
func longer(a, b []Row) []Row {
	out := make([]Row, 0, len(a))
	for i := range min(len(a), len(b)) {
		row := a[i]
		if b[i].Minutes > row.Minutes {
			row = b[i]
		}
		row.Source += "; the longer of chicken and turkey, p.36"
		out = append(out, row)
	}
	return out
}

// shareFattest gives the fattest column to fatter and to unknown product.
func shareFattest(tables map[string][]Row) {
	for _, species := range poultrySpecies {
		rows := tables[poultryTable(species, strconv.Itoa(fattest))]
		tables[poultryTable(species, fatUnknown)] = rows
		for fat := fattest + 1; fat <= 100; fat++ {
			tables[poultryTable(species, strconv.Itoa(fat))] = rows
		}
	}
}

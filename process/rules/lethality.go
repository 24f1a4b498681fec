package rules

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// A Row is one line of a time-temperature table: the product is at or above TempC,
// in all its parts, for Minutes in all.
type Row struct {
	TempC      float64 // whole °F of the source, converted
	Minutes    float64 // as printed; 0 is "instant"
	Source     string
	Provenance string // "seen" or "memory"
}

//go:embed fsis_meat.csv
var fsisMeat string

// meatColumns are the names of the tables in fsis_meat.csv, in order of rigour.
var meatColumns = [...]struct{ name, column string }{
	{"fsis-meat-5", "printed_5"},
	{"fsis-meat-6.5", "printed_6_5"},
	{"fsis-meat-7", "printed_7"},
}

// lethalities reads all the tables once; nobody changes what it returns.
var lethalities = sync.OnceValues(func() (map[string][]Row, error) {
	tables := map[string][]Row{}
	for _, read := range []func(map[string][]Row) error{readMeat, readPoultry, readFoodCode, readTrichina, readSmokedFish} {
		if err := read(tables); err != nil {
			return nil, err
		}
	}
	return tables, nil
})

func readMeat(tables map[string][]Row) error {
	lines, err := records(fsisMeat)
	if err != nil {
		return err
	}
	for _, c := range meatColumns {
		if tables[c.name], err = printedRows(lines, c.column); err != nil {
			return err
		}
	}
	return nil
}

// printedRows reads a column of times as a table of its own.
func printedRows(lines []map[string]string, column string) ([]Row, error) {
	rows := make([]Row, 0, len(lines))
	for _, line := range lines {
		row, err := printedRow(line, column)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// printedRow reads a row whose time is printed in a column.
func printedRow(line map[string]string, column string) (Row, error) {
	tempF, err := strconv.ParseFloat(line["temp_f"], 64)
	if err != nil {
		return Row{}, fmt.Errorf("rules: temperature %q: %w", line["temp_f"], err)
	}
	minutes, err := printedMinutes(line[column])
	if err != nil {
		return Row{}, err
	}
	return Row{TempC: celsius(tempF), Minutes: minutes, Source: line["source"], Provenance: line["provenance"]}, nil
}

// printedMinutes reads a time as it is printed: "112 min", "169 sec", "9.5 hours",
// "instant".
func printedMinutes(text string) (float64, error) {
	if text == "instant" {
		return 0, nil
	}
	number, unit, _ := strings.Cut(text, " ")
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, fmt.Errorf("rules: time %q: %w", text, err)
	}
	switch unit {
	case "min", "minute", "minutes":
		return v, nil
	case "sec":
		return v / 60, nil
	case "hour", "hours":
		return v * 60, nil
	}
	return 0, fmt.Errorf("rules: time %q: want hours, min or sec", text)
}

// Lethality returns the rows of a time-temperature table, coldest first; any one
// row met is the table met. ok is false for an unknown name: LethalityNames lists
// them, LethalityHint says them in a line. The slice is shared, so that a sample
// costs no allocation: it must not be changed.
//
//	fsis-meat-5, -6.5, -7    FSIS-GD-2021-14, Tables 2 and 6 (seen): decimal
//	                         reductions of Salmonella
//	fsis-chicken-7:FAT       the same, Table 3; FAT is whole per cent from 1, or
//	fsis-turkey-7:FAT        "unknown": above 12 % and unknown use the column of
//	                         12 % (p. 39). Table 4 for turkey
//	fsis-poultry-7:FAT       other and mixed poultry: the longer of the two (p. 36)
//	foodcode-...             FDA Food Code 3-401.11 (foodcode.go)
//	trichina-cook            the old 9 CFR 318.10(c)(1): Trichinella only, not enough
//	                         for Salmonella
//	smoked-fish              hot-smoked fish (smokedfish.go)
func Lethality(table string) (rows []Row, ok bool) {
	tables, err := lethalities()
	if err != nil {
		return nil, false
	}
	rows, ok = tables[table]
	return rows, ok
}

// LethalityNames returns the names that Lethality knows. Fat above 12 % is known
// too and not listed: it is the column of 12 %.
func LethalityNames() []string {
	var names []string
	for _, c := range meatColumns {
		names = append(names, c.name)
	}
	for _, species := range poultrySpecies {
		for fat := 1; fat <= fattest; fat++ {
			names = append(names, poultryTable(species, strconv.Itoa(fat)))
		}
		names = append(names, poultryTable(species, fatUnknown))
	}
	return append(append(names, foodCodeTables[:]...), trichinaTable, smokedFishTable)
}

// LethalityHint says the names in a line, for the hint of an error.
func LethalityHint() string {
	var names []string
	for _, c := range meatColumns {
		names = append(names, c.name)
	}
	for _, species := range poultrySpecies {
		names = append(names, poultryTable(species, "FAT"))
	}
	names = append(append(names, foodCodeTables[:]...), trichinaTable, smokedFishTable)
	return strings.Join(names, ", ") + "; FAT is whole per cent of fat from 1, or " + fatUnknown
}

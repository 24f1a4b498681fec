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

// meatTables reads fsis_meat.csv once; nobody changes what it returns.
var meatTables = sync.OnceValues(func() (map[string][]Row, error) {
	lines, err := records(fsisMeat)
	if err != nil {
		return nil, err
	}
	tables := map[string][]Row{}
	for _, line := range lines {
		for _, c := range meatColumns {
			row, err := meatRow(line, c.column)
			if err != nil {
				return nil, err
			}
			tables[c.name] = append(tables[c.name], row)
		}
	}
	return tables, nil
})

func meatRow(line map[string]string, column string) (Row, error) {
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

// printedMinutes reads a time as the guideline prints it, "112 min" or "169 sec".
func printedMinutes(text string) (float64, error) {
	number, unit, _ := strings.Cut(text, " ")
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, fmt.Errorf("rules: time %q: %w", text, err)
	}
	switch unit {
	case "min":
		return v, nil
	case "sec":
		return v / 60, nil
	}
	return 0, fmt.Errorf("rules: time %q: want min or sec", text)
}

// Lethality returns the rows of a time-temperature table, coldest first; any one
// row met is the table met. The tables are the meat table of the FSIS cooking
// guideline (FSIS-GD-2021-14, Tables 2 and 6; seen) at 5, 6.5 and 7 decimal
// reductions of Salmonella: "fsis-meat-5", "fsis-meat-6.5", "fsis-meat-7". ok is
// false for another name; LethalityNames lists them. The slice is shared, so that a
// sample costs no allocation: it must not be changed.
func Lethality(table string) (rows []Row, ok bool) {
	tables, err := meatTables()
	if err != nil {
		return nil, false
	}
	rows, ok = tables[table]
	return rows, ok
}

// LethalityNames returns the names that Lethality knows.
func LethalityNames() []string {
	names := make([]string, 0, len(meatColumns))
	for _, c := range meatColumns {
		names = append(names, c.name)
	}
	return names
}

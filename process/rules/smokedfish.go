package rules

import _ "embed"

// smokedFishTable is the table of Lethality for hot-smoked fish: what one model
// plan of the trade asks for, not a decimal reduction of a named organism.
const smokedFishTable = "smoked-fish"

//go:embed smoked_fish.csv
var smokedFish string

func readSmokedFish(tables map[string][]Row) error {
	lines, err := records(smokedFish)
	if err != nil {
		return err
	}
	tables[smokedFishTable], err = printedRows(lines, "printed")
	return err
}

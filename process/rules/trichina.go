package rules

import (
	_ "embed"
	"fmt"
	"slices"
	"strconv"
	"sync"
)

// trichinaTable is the table of Lethality for Trichinella. The rule was removed
// from the code in 2018 and lives on as guidance and in state law.
const trichinaTable = "trichina-cook"

//go:embed trichina_cook.csv
var trichinaCook string

//go:embed trichina_freeze.csv
var trichinaFreeze string

func readTrichina(tables map[string][]Row) error {
	lines, err := records(trichinaCook)
	if err != nil {
		return err
	}
	tables[trichinaTable], err = printedRows(lines, "printed")
	return err
}

// A Freeze is a row of the tables for freezing pork against Trichinella (the old 9
// CFR 318.10(c)(2)). It works for T. spiralis only: some kinds in game survive it.
type Freeze struct {
	Table      int     // 1: by the room and the thickness; 2: by the centre of the meat
	TempC      float64 // at or below it for all of the time
	OverIn     float64 // table 1: thicker than this, inches
	MaxIn      float64 // table 1: and at most this; 0 is any
	Hours      float64
	MeasuredAt string // "room" or "centre"
	Source     string
	Provenance string
}

// freezes reads trichina_freeze.csv once; nobody changes what it returns.
var freezes = sync.OnceValues(func() ([]Freeze, error) {
	lines, err := records(trichinaFreeze)
	if err != nil {
		return nil, err
	}
	var out []Freeze
	for _, line := range lines {
		f := Freeze{MeasuredAt: line["measured_at"], Source: line["source"], Provenance: line["provenance"]}
		var tempF, table float64
		for column, to := range map[string]*float64{"temp_f": &tempF, "table": &table, "over_in": &f.OverIn, "max_in": &f.MaxIn, "hours": &f.Hours} {
			if line[column] == "" {
				continue
			}
			if *to, err = strconv.ParseFloat(line[column], 64); err != nil {
				return nil, fmt.Errorf("rules: freezing, %s: %w", column, err)
			}
		}
		f.TempC, f.Table = celsius(tempF), int(table)
		out = append(out, f)
	}
	return out, nil
})

// Freezing returns the rows of both tables. The caller owns the slice.
func Freezing() []Freeze {
	all, err := freezes()
	if err != nil {
		return nil
	}
	return slices.Clone(all)
}

// rounding is what a temperature in °C may be off by after a conversion, K.
const rounding = 1e-6

// FreezingFor returns the row that asks for the fewest hours of meat held at or
// below tempC, measured in its centre, or in the room for meat of a thickness in
// inches. ok is false when no row is that warm or that thick. Rows are not
// interpolated.
func FreezingFor(centre bool, tempC, thicknessIn float64) (best Freeze, ok bool) {
	all, err := freezes()
	if err != nil {
		return Freeze{}, false
	}
	for _, f := range all {
		if (f.Table == 2) != centre || !(tempC <= f.TempC+rounding) {
			continue
		}
		if !centre && !(thicknessIn > f.OverIn && thicknessIn <= f.MaxIn) {
			continue
		}
		if !ok || f.Hours < best.Hours {
			best, ok = f, true
		}
	}
	return best, ok
}

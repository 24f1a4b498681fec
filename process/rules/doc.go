// Package rules holds published limits as tables: what an authority printed, where
// it was read, and whether it was read at all (provenance "seen") or is recalled
// ("memory"; confirm before it decides anything). The tables are the CSV files of
// this folder.
//
// A rule is a table row, not a law of nature: rows are not interpolated, and "0
// min" at the top of a lethality table means that the authority asks for no hold
// there, not that nothing takes time.
package rules

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"strings"
)

// records reads an embedded table: one map of column to cell for each row.
func records(table string) ([]map[string]string, error) {
	lines, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("rules: %w", err)
	}
	if len(lines) < 2 {
		return nil, fmt.Errorf("rules: table without rows")
	}
	out := make([]map[string]string, 0, len(lines)-1)
	for _, cells := range lines[1:] {
		row := map[string]string{}
		for i, column := range lines[0] {
			row[column] = cells[i]
		}
		out = append(out, row)
	}
	return out, nil
}

// celsius converts °F exactly as defined.
func celsius(f float64) float64 { return (f - 32) / 1.8 }

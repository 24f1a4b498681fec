package engine

import (
	"encoding/json"
	"fmt"

	"flitch/alerts"
)

// Night reads who has the duty, and what is on a shelf by "entry|subject", from stored
// alarm rows.
func Night(rows map[string][]byte) (alerts.Duty, map[string]alerts.Shelf, error) {
	var state peopleState
	if row, ok := rows[peopleRow]; ok {
		if err := json.Unmarshal(row, &state); err != nil {
			return alerts.Duty{}, nil, fmt.Errorf("engine: stored people: %w", err)
		}
	}
	return state.Duty, state.Shelved, nil
}

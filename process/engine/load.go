package engine

import (
	"encoding/json"
	"fmt"
	"time"

	"flitch/process"
)

// self is the name under which the engine keeps its own state among the places.
const self = "*"

// selfState is what the engine remembers beside batches, places and alarms.
type selfState struct {
	Faults map[string]time.Time `json:"faults"`
	Paths  map[string]time.Time `json:"paths,omitempty"`
	Ends   time.Time            `json:"ends,omitzero"`
	Clock  *process.ClockWord   `json:"clock,omitempty"`
}

// load takes up the state of the last transaction. A place that is new in the
// configuration starts with nothing heard; one that is gone is forgotten.
func (e *Engine) load() error {
	saved, err := e.Store.Load()
	if err != nil {
		return fmt.Errorf("engine: load: %w", err)
	}
	for _, row := range saved.Batches {
		b := new(process.Batch)
		if err := json.Unmarshal(row.State, b); err != nil {
			return fmt.Errorf("engine: stored batch %s: %w", row.ID, err)
		}
		b.NeedsRecount = b.NeedsRecount || b.Stages[0].ID == "" // stored before its entries had names to strike them out by
		e.house.add(b)
	}
	if err := e.loadPlaces(saved.Places); err != nil {
		return err
	}
	rows, err := e.house.loadPeople(saved.Alarms)
	if err != nil {
		return err
	}
	if err := e.house.board.load(rows, saved.AlarmNumber); err != nil {
		return err
	}
	e.house.forgetClosed()
	e.house.pending = newChange(e.cursor)
	e.house.occupy()
	return e.loadSeen()
}

func (e *Engine) loadPlaces(rows []PlaceRow) error {
	var stored []*process.Place
	for _, row := range rows {
		if row.Name == self {
			if err := e.loadSelf(row); err != nil {
				return err
			}
			continue
		}
		p := new(process.Place)
		if err := json.Unmarshal(row.State, p); err != nil {
			return fmt.Errorf("engine: stored place %s: %w", row.Name, err)
		}
		stored = append(stored, p)
	}
	e.house.recall(stored)
	return nil
}

func (e *Engine) loadSelf(row PlaceRow) error {
	e.cursor = row.Cursor
	var s selfState
	if err := json.Unmarshal(row.State, &s); err != nil {
		return fmt.Errorf("engine: stored state: %w", err)
	}
	e.house.ends, e.house.clock = s.Ends, s.Clock
	if s.Faults != nil {
		e.house.faults = s.Faults
	}
	if s.Paths != nil {
		e.house.paths = s.Paths
	}
	e.house.findPaths() // what was stored before there were paths
	return nil
}

// writeSelf stores the cursor, with which all other state agrees.
func (e *Engine) writeSelf(tx Tx) error {
	state, err := json.Marshal(selfState{Faults: e.house.faults, Paths: e.house.paths, Ends: e.house.ends, Clock: e.house.clock})
	if err != nil {
		return fmt.Errorf("engine: own state: %w", err)
	}
	return tx.SavePlace(self, e.house.pending.cursor, state)
}

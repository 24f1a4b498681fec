package heat

import (
	"encoding/json"
	"fmt"
)

func (r *record) add(m Minute) {
	r.Minute = append(r.Minute, m.Min)
	r.Chamber = append(r.Chamber, m.ChamberC)
	r.Core = append(r.Core, m.CoreC)
	r.Flags = append(r.Flags, m.Flags)
}

func (r *record) at(i int) Minute {
	return Minute{Min: r.Minute[i], ChamberC: r.Chamber[i], CoreC: r.Core[i], Flags: r.Flags[i]}
}

// reset begins again with the chamber that a record says the ensemble is for.
func (e *Ensemble) reset(of record) {
	*e = Ensemble{law: newLaw(of.Humidity), pieces: make([]piece, members), record: of,
		misfit: make([]float64, members), weight: make([]float64, members), scores: make([]score, 0, members)}
	if of.Minute == nil {
		e.record.Minute = make([]float64, 0, recordRoom)
		e.record.Chamber = make([]float64, 0, recordRoom)
		e.record.Core = make([]float64, 0, recordRoom)
		e.record.Flags = make([]Flag, 0, recordRoom)
	}
	for i := range e.pieces {
		e.pieces[i] = newPiece(i + 1)
		e.weight[i] = 1.0 / members
	}
}

// follow brings an ensemble that was read back to the end of its record.
func (e *Ensemble) follow() {
	if !e.behind {
		return
	}
	e.behind = false
	e.reset(e.record)
	for i := range e.record.Minute {
		e.advance(e.record.at(i))
	}
}

// MarshalJSON writes the minutes the ensemble was given.
func (e *Ensemble) MarshalJSON() ([]byte, error) { return json.Marshal(e.record) }

// UnmarshalJSON reads them. They are followed when the ensemble is next used.
func (e *Ensemble) UnmarshalJSON(text []byte) error {
	var r record
	if err := json.Unmarshal(text, &r); err != nil {
		return fmt.Errorf("forecast ensemble: %w", err)
	}
	n := len(r.Minute)
	if len(r.Chamber) != n || len(r.Core) != n || len(r.Flags) != n {
		return fmt.Errorf("forecast ensemble: %d minutes with %d chambers, %d cores and %d flags", n, len(r.Chamber), len(r.Core), len(r.Flags))
	}
	*e = Ensemble{record: r, behind: true}
	return nil
}

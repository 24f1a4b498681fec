package web

import (
	"time"

	"flitch/process"
)

// A Probe is a probe and how it was checked.
type Probe struct {
	Probe     string              `json:"probe"`
	Place     string              `json:"place"`
	Placement process.Placement   `json:"placement"`
	Heard     time.Time           `json:"heard,omitzero"`      // zero: not yet
	Due       time.Time           `json:"due,omitzero"`        // of the next check; zero: none is asked for
	LastGood  *process.ProbeCheck `json:"last_good,omitempty"` // nil: none
	Failed    *process.ProbeCheck `json:"failed,omitempty"`    // nil: it is in use
	Battery   *process.KnownVital `json:"battery,omitempty"`   // of the newest day; nil: it tells none
	Signal    *process.KnownVital `json:"signal,omitempty"`    // the same
	Batches   []string            `json:"batches,omitempty"`   // measured with it since its last good check

	Absent *process.Absence `json:"absent,omitempty"` // its device said that it is gone
	Asks   string           `json:"asks,omitempty"`   // what its device wants a person to know

	SentC       float64              `json:"sent_c"` // newest value, as sent; the zero time: none yet
	SentAt      time.Time            `json:"sent_at,omitzero"`
	ReadsC      float64              `json:"reads_c"`          // the same with the correction in force, as flitch shows it
	Correction  process.Correction   `json:"correction"`       // in force
	Uncertainty float64              `json:"uncertainty_k"`    // K, by the newest check or as configured
	Checks      []process.ProbeCheck `json:"checks,omitempty"` // the newest two dozen, in the order they happened
}

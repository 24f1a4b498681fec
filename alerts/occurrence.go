package alerts

import "time"

// An Occurrence is one time an alarm happened, from raised to cleared, for lists
// and for the record.
type Occurrence struct {
	Number         int64     `json:"number"`
	Entry          string    `json:"entry"`
	Title          string    `json:"title"`
	Subject        string    `json:"subject"`
	Unit           string    `json:"unit"`
	Level          Level     `json:"level"`
	Since          time.Time `json:"since"` // the condition began
	RaisedAt       time.Time `json:"raised"`
	ClearedAt      time.Time `json:"cleared,omitzero"`
	AcknowledgedAt time.Time `json:"acknowledged,omitzero"`
	AcknowledgedBy string    `json:"acknowledged_by,omitempty"`
	Value          float64   `json:"value"` // latest
	Worst          float64   `json:"worst"` // farthest beyond the limit
	Limit          float64   `json:"limit"` // of the trigger that raised it
	Active         bool      `json:"active"`

	// Answers is everybody who ever said they are on it. AcknowledgedBy is the last
	// of them, and is emptied when the alarm asks again.
	Answers []Answer `json:"answers,omitempty"`
}

// An Answer is one acknowledgement.
type Answer struct {
	At time.Time `json:"at"`
	By string    `json:"by"`
	ID string    `json:"id,omitempty"` // of the command that said it

	Withdrawn *Withdrawal `json:"withdrawn,omitempty"` // nil: it was not taken back
}

// A Withdrawal says who took back an answer or a shelf, and why.
type Withdrawal struct {
	By  string    `json:"by"`
	At  time.Time `json:"at"`
	Why string    `json:"why,omitempty"` // within the first minute it may be empty
}

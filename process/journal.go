package process

import "time"

// A JournalLine is one line of the append-only journal. Hash covers the line and
// the hash before it, so that nothing can be edited or dropped unseen.
type JournalLine struct {
	Seq   int64     `json:"seq"`
	At    time.Time `json:"at"`
	Batch string    `json:"batch,omitempty"`
	Kind  string    `json:"kind"` // "stage", "turned", "excursion", "alarm", ...
	By    string    `json:"by,omitempty"`
	Text  string    `json:"text"`
	Prev  string    `json:"prev"` // SHA-256, hex
	Hash  string    `json:"hash"` // SHA-256, hex
}

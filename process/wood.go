package process

import (
	"strings"
	"time"
)

// NoteWood is the note that says wood or fuel was added (H15 of the alarm table: a line in
// the log). More may follow it: "wood added, two splits of beech".
const NoteWood = "wood added"

// WoodAdded is the newest note of wood by when it happened; ok is false when there is none.
func (b *Batch) WoodAdded() (newest NoteEntry, ok bool) {
	for _, n := range b.Notes {
		if strings.HasPrefix(strings.ToLower(n.Text), NoteWood) && (!ok || n.At.After(newest.At)) {
			newest, ok = n, true
		}
	}
	return newest, ok
}

// Allowed is the spacing of readings of the probe up to which there is no gap.
func (p PlacedProbe) Allowed() time.Duration { return p.allowed() }

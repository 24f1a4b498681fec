package record

import (
	"strconv"
	"time"
)

// A Seal says how the readings and entries of a batch are sealed: which line of the journal
// is the seal over the last of them, and by whom it is signed. Lines and Last of its Chain
// are those of that line, so that what comes in later changes no record of the past.
type Seal struct {
	Line    int64     `json:"line"`                      // number of the line
	From    int64     `json:"from"`                      // numbers of the log that the seals of the batch are over
	To      int64     `json:"to"`                        //
	At      time.Time `json:"at"`                        // by the daemon's clock
	Key     string    `json:"key"`                       // fingerprint of the key that signed it; empty: none did
	Before  string    `json:"before,omitempty"`          // fingerprint of the key that signed before it, if another did
	Since   time.Time `json:"since,omitzero"`            // then: since when it is signed by Key
	Removed time.Time `json:"readings_removed,omitzero"` // when readings of the batch were removed, long after it
	Waiting int64     `json:"not_yet_sealed"`            // rows of the log that came after it, while the batch is open
}

// SealWords says the seal in a line.
func (r *Record) SealWords() string {
	s := r.Chain.Seal
	if s == nil {
		return "Not sealed yet."
	}
	text := "Sealed " + r.Site.Stamp(s.At) + " by journal line " + strconv.FormatInt(s.Line, 10) + ", signed by key "
	switch {
	case s.Key == "":
		text = "Sealed " + r.Site.Stamp(s.At) + " by journal line " + strconv.FormatInt(s.Line, 10) + ", not signed"
	case s.Before != "":
		text += s.Key + ", another key since " + r.Site.Stamp(s.Since) + "; before by " + s.Before
	default:
		text += s.Key
	}
	if s.Waiting > 0 {
		text += "; not yet sealed: " + strconv.FormatInt(s.Waiting, 10) + " rows"
	}
	if !s.Removed.IsZero() {
		text += "; readings of it were removed on " + r.Site.Stamp(s.Removed) + " by the rule for how long they are kept: what is counted here from readings is of those that are left, and the clocks stand as they were"
	}
	return text + ". This shows that nothing was changed since then by anybody without the key; it does not show that the clock was right."
}

// asOf is the moment the record speaks of: when a batch was closed, whenever the paper is made.
func (r *Record) asOf() time.Time {
	if !r.Head.Closed.IsZero() {
		return r.Head.Closed
	}
	return r.MadeAt
}

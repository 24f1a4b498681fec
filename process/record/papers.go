package record

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"strings"

	"flitch/process"
)

// An Action is a corrective action with its number in the record.
type Action struct {
	Number int `json:"number"`
	process.ActionEntry
	Lacks       []string `json:"missing,omitempty"` // parts that nobody wrote, or that have a blank
	AfterReview bool     `json:"after_review,omitempty"`
}

// A Disposition is what became of pieces.
type Disposition struct {
	process.DispositionEntry
	AfterReview bool `json:"after_review,omitempty"`
}

// A Photo is a picture that came with a note. Small is a copy that stands in the page of
// the record; the hash is that of the picture as it is kept.
type Photo struct {
	process.Photo
	Small []byte `json:"-"` // JPEG; nil: it could not be made
}

// Source is the small copy as an address that needs nothing from outside.
func (p Photo) Source() template.URL {
	return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(p.Small)) // base64 has nothing to escape
}

// Of are the pieces that a disposition is about, in words.
func (d Disposition) Of() string {
	if len(d.Pieces) == 0 {
		return "all pieces"
	}
	return strings.Join(d.Pieces, ", ")
}

// Standing says whether the batch is held, and by what.
func (r *Record) Standing() string {
	if len(r.Held) > 0 {
		return string(process.Held) + " (" + strings.Join(r.Held, ", ") + ")"
	}
	if n := len(r.Dispositions); n > 0 {
		d := r.Dispositions[n-1]
		return fmt.Sprintf("not held; newest disposition: %s, %s", d.What, d.Of())
	}
	return ""
}

// LastReview is the newest review, or nil.
func (r *Record) LastReview() *process.ReviewEntry {
	if len(r.Reviews) == 0 {
		return nil
	}
	return &r.Reviews[len(r.Reviews)-1]
}

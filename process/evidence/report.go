package evidence

import "fmt"

// The words of a report.
const (
	Met         = "met"
	NotMet      = "not met"
	NotMeasured = "not measured" // it is not there, and so cannot be looked at
	LookAt      = "look at"      // no rule is broken; a person should know
)

// A Finding is one line of a report.
type Finding struct {
	Word string // Met, NotMet, NotMeasured or LookAt
	What string // "journal", "seals" ...
	Text string
}

// String is the line as people read it.
func (f Finding) String() string { return fmt.Sprintf("%-12s  %s: %s", f.Word, f.What, f.Text) }

// A Report is what was found, in the order it was looked at.
type Report []Finding

// Add adds a line.
func (r *Report) Add(word, what, format string, args ...any) {
	*r = append(*r, Finding{word, what, fmt.Sprintf(format, args...)})
}

// First is the first thing that is wrong; nil: nothing is.
func (r Report) First() *Finding {
	for i := range r {
		if r[i].Word == NotMet {
			return &r[i]
		}
	}
	return nil
}

// wrong reports whether something of that name is wrong already: what follows from it is
// not told again.
func (r Report) wrong(what string) bool {
	for _, f := range r {
		if f.What == what && f.Word == NotMet {
			return true
		}
	}
	return false
}

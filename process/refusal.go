package process

// A Refusal is a command that was not taken: what is wrong and what to do
// instead. Nothing was changed.
type Refusal struct {
	What     string // "batch OL-1: stage cook comes after dry"
	Hint     string // "enter dry first, or name the stage that is true"
	NotFound bool   // the thing named does not exist
	NotNow   bool   // nothing is wrong with what was said: it could not be stored

	// Already is set when somebody said the same before: nothing is wrong, and what was
	// wanted is there. Two people press one button, and the second is told so.
	Already *Entered
}

// Error returns what is wrong, and the hint if there is one.
func (r *Refusal) Error() string {
	if r.Hint == "" {
		return r.What
	}
	return r.What + ": " + r.Hint
}

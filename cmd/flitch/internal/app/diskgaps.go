package app

import "flitch/process"

// diskGaps are the times while the batch was open in which nothing could be stored, in the
// words of the journal.
func (r *reader) diskGaps(b *process.Batch) (words []string, err error) {
	house, err := r.app.db.Commands("")
	from, to := span(b, r.now())
	for _, in := range house {
		c := in.Command
		if c.Kind == process.CommandFault && c.Of != "" && c.Until.After(from) && c.At.Before(to) {
			words = append(words, c.Of)
		}
	}
	return words, err
}

package process

import "iter"

// Recount computes the batch anew from its whole history: the command that
// started it, then every command and reading in the order of the time they
// happened (EventTime), through the same Step. Late data and corrections so give
// the same answer as if they had come in time. What the batch finds on the way
// is dropped: late data never ring.
func Recount(start Input, history iter.Seq[Input]) *Batch {
	b := Start(start)
	var found []Finding
	for in := range history {
		in.At = in.EventTime()
		if in.Kind == InputReading && in.Reading.IsImported() {
			b.Imported = true
			in.Reading = in.Reading.inTime()
		}
		found = Step(b, in, found[:0])
	}
	b.NeedsRecount = false
	return b
}

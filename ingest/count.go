package ingest

import (
	"flitch/ingest/decode"
	"flitch/process"
)

// count tells the observer what became of a batch.
func (in *Intake) count(b *batch, done Committed) {
	o := in.opts.Observe
	if done.Stored > 0 {
		o.Stored(done.Stored)
	}
	if n := done.Duplicates + b.absorbed; n > 0 {
		o.Duplicate(n)
	}
	for i := range b.readings {
		if q := b.readings[i].Quality; q != process.Good {
			o.Doubtful(q)
		}
	}
	for _, it := range b.items {
		if !it.mapped {
			o.Unmapped()
		}
		for _, err := range it.refused {
			o.Rejected(string(decode.ClassOf(err)))
		}
	}
}

package process

import (
	"strings"
	"time"
)

// The values of MeasureDose.
const (
	DoseFails   = 1.0 // the dose in force fails its checks
	DoseMissing = 2.0 // other pieces have a dose and this one has none
)

// missingAfter is how long after the first dose of a batch the others are waited for
// (proposal: weighing the next slab takes minutes).
const missingAfter = 30 * time.Minute

// findDoses reports on the cure of each piece, while it can still be mended.
func (b *Batch) findDoses(found []Finding) []Finding {
	if len(b.Doses) == 0 {
		return found
	}
	applies := b.Open() && b.Plan.index(b.Stage().Name) <= b.Plan.index(StageCure)
	for _, p := range b.Pieces {
		f := Finding{Measure: MeasureDose, Subject: "piece " + p.Name + " of batch " + b.ID, At: b.Now, State: Over}
		if applies {
			f.State, f.Value = Known, b.doseFault(p.Name)
		}
		found = append(found, f)
	}
	return found
}

func (b *Batch) doseFault(piece string) float64 {
	switch e := b.Dose(piece); {
	case e == nil && b.Now.Sub(b.Doses[0].Typed) >= missingAfter:
		return DoseMissing
	case e != nil && e.fails():
		return DoseFails
	}
	return 0
}

// doseFailed reports whether a dose in force fails its checks.
func (b *Batch) doseFailed() bool {
	for i := range b.Pieces {
		if e := b.Dose(b.Pieces[i].Name); e != nil && e.fails() {
			return true
		}
	}
	return false
}

// doubtDoses says on the cure clock which pieces have no dose. Where others have one
// it is not known that their cure ever began.
func (b *Batch) doubtDoses(c *Clock) {
	names := b.undosed()
	if len(names) == 0 {
		return
	}
	c.doubt("no dose was logged for %s", strings.Join(names, ", "))
	if len(b.Doses) > 0 && c.Verdict == Met {
		c.Verdict = NotMeasured
	}
}

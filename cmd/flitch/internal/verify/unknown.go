package verify

import (
	"flitch/process"
	"flitch/process/evidence"
)

// unknown finds a batch that the log begins and nobody knows. One that was begun after all that
// was evaluated, or told to a fleet, is none yet: a kill or a cut of power came in between, or
// flitch is at it.
func (d *database) unknown(known map[string]bool, through int64) {
	const what = "clocks"
	id, begun, err := d.firstUnknown(known)
	switch {
	case err != nil:
		d.report.Add(evidence.NotMet, what, "%v", err)
	case id == "":
	case begun > through:
		d.report.Add(evidence.NotMeasured, what, "batch %s was begun at number %d, and what is here of batches goes to number %d", id, begun, through)
	default:
		d.report.Add(evidence.NotMet, what, "batch %s was begun, and is not in the list of batches", id)
	}
}

// firstUnknown is the first batch that is begun in the log and not known, and the number of
// its begin; empty: there is none.
func (d *database) firstUnknown(known map[string]bool) (id string, seq int64, err error) {
	for last := int64(0); ; {
		inputs, err := d.db.NextCommands(last, 1000)
		if err != nil || len(inputs) == 0 {
			return "", 0, err
		}
		for _, in := range inputs {
			last = in.Seq
			if in.Command.Kind == process.CommandNew && !known[in.Command.Batch] {
				return in.Command.Batch, in.Seq, nil
			}
		}
	}
}

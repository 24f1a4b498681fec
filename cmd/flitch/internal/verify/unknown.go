package verify

import (
	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// unknown finds a batch that the log begins and nobody knows. One that was begun after all that
// is evaluated is none yet: a kill or a cut of power came in between, or flitch is at it. Of rows
// that are elsewhere nobody knows how far the site had evaluated them.
func (d *database) unknown(rows []store.BatchRow, known map[string]bool) {
	const what = "clocks"
	id, begun, err := d.firstUnknown(known)
	evaluated, err2 := d.evaluated(rows)
	if err == nil {
		err = err2
	}
	switch {
	case err != nil:
		d.report.Add(evidence.NotMet, what, "%v", err)
	case id == "":
	case d.own != nil && begun > evaluated:
		d.report.Add(evidence.NotMeasured, what, "batch %s was begun at number %d, and nothing after number %d is evaluated yet", id, begun, evaluated)
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

// evaluated is the last number that anything that is stored was evaluated up to.
func (d *database) evaluated(rows []store.BatchRow) (through int64, err error) {
	for _, row := range rows {
		through = max(through, row.Cursor)
	}
	if d.own == nil {
		return through, nil
	}
	places, err := d.own.Places()
	for _, p := range places {
		through = max(through, p.Cursor)
	}
	return through, err
}

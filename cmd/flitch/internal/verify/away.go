package verify

import (
	"context"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/evidence"
	"flitch/store"
)

// sealAway makes a seal anew from rows that are kept elsewhere. What the site had removed before
// it sent it is not there: what the seal said of it stands in.
func (d *database) sealAway(s store.SealedLine, rows *evidence.Sealer) (evidence.Seal, error) {
	known, err := d.db.RemovedStrands(s.Seq)
	seal, missing := rows.SealWith(s.Seal.From, s.Seal.To, known)
	for _, one := range missing {
		if d.missing == nil {
			d.missing = map[string]int64{}
		}
		d.missing[one.Name] += one.Rows
	}
	return seal, err
}

// removedAway holds what is missing against the journal, which has a line for all that the site
// removed.
func (d *database) removedAway(context.Context) {
	const what = "retention"
	stated := map[string]int64{}
	err := d.db.EachLine(0, 0, func(l process.JournalLine) error {
		r, ok := evidence.ParseRemoval(l.Text)
		if l.Kind != evidence.RemovedKind || !ok || l.At.Sub(time.UnixMilli(r.LastMeasured)) < evidence.LeastKept {
			return nil
		}
		d.removals = append(d.removals, r)
		stated[evidence.ProbeStrand(r.Probe)] += r.Rows
		return nil
	})
	if err != nil {
		d.report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	names := make([]string, 0, len(d.missing))
	for name := range d.missing {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if d.missing[name] > stated[name] {
			d.report.Add(evidence.NotMet, what, "%d readings of %s are not here, and by the journal the site removed %d", d.missing[name], name, stated[name])
			continue
		}
		d.report.Add(evidence.NotMeasured, what, "%d readings of %s were removed at the site before they were sent; of each seal over them the digest stands", d.missing[name], name)
	}
}

// goneAway says that readings of the batch were removed before they were sent; empty: none were.
func (d *database) goneAway(b *process.Batch) string {
	from, to := b.Started.Add(-time.Hour).UnixMilli(), b.Now.Add(time.Hour).UnixMilli()
	for _, r := range d.removals {
		if d.missing[evidence.ProbeStrand(r.Probe)] > 0 && r.FirstMeasured <= to && r.LastMeasured >= from &&
			slices.ContainsFunc(b.Tracks, func(t *process.Track) bool { return t.Probe.Probe == r.Probe }) {
			return "readings of it were removed at the site before they were sent"
		}
	}
	return ""
}

package verify

import (
	"context"
	"fmt"
	"strings"
	"time"

	"flitch/process"
	"flitch/process/evidence"
)

// blocks unpacks every block.
func (d *database) blocks(ctx context.Context) {
	const what = "blocks"
	found, err := d.own.CheckBlocks(ctx)
	switch {
	case err != nil:
		d.report.Add(evidence.NotMet, what, "%v", err)
	case found.Blocks > 0:
		d.report.Add(evidence.Met, what, "%d hold %d readings, each as its checksum says", found.Blocks, found.Readings)
	}
}

// removed holds what is stated as removed against the journal. That the readings were those
// which were sealed, seals tells: their strands stand in for them.
func (d *database) removed(context.Context) {
	const what = "retention"
	all, err := d.own.Removals()
	if err == nil {
		err = d.own.CheckRemoved()
	}
	if err == nil {
		err = d.statedAsRemoved(all)
	}
	if err != nil {
		d.report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	d.removals = all
	for _, s := range sumUp(all, d.removedAt) {
		d.report.Add(evidence.NotMeasured, what, "%s", s)
	}
}

// statedAsRemoved finds the line of the journal for each removal, and a removal for each line.
func (d *database) statedAsRemoved(all []evidence.Removal) error {
	lines, err := d.own.LinesOf(evidence.RemovedKind)
	if err != nil {
		return err
	}
	d.removedAt = map[int64]time.Time{}
	said := map[int64]process.JournalLine{}
	for _, l := range lines {
		said[l.Seq] = l
	}
	for _, r := range all {
		l, is := said[r.Line]
		delete(said, r.Line)
		switch {
		case !is || !strings.HasPrefix(l.Text, r.Text()+" by "):
			return fmt.Errorf("journal line %d does not say that %s were removed", r.Line, r.Text())
		case l.At.Sub(time.UnixMilli(r.LastMeasured)) < evidence.LeastKept:
			return fmt.Errorf("journal line %d removes readings that were younger than any rule removes", r.Line)
		}
		d.removedAt[r.Line] = l.At
	}
	for line := range said {
		return fmt.Errorf("journal line %d says that readings were removed, and no count of them stands anywhere", line)
	}
	return nil
}

// sumUp says of each probe what was removed of it.
func sumUp(all []evidence.Removal, at map[int64]time.Time) (texts []string) {
	type sum struct {
		rows, from, to, first, last int64
		lines                       int
	}
	sums, order := map[string]*sum{}, []string{}
	for _, r := range all {
		s := sums[r.Probe]
		if s == nil {
			s = &sum{from: r.FirstMeasured, to: r.LastMeasured, first: r.Line}
			sums[r.Probe], order = s, append(order, r.Probe)
		}
		s.rows, s.last, s.lines = s.rows+r.Rows, r.Line, s.lines+1
		s.from, s.to = min(s.from, r.FirstMeasured), max(s.to, r.LastMeasured)
	}
	for _, probe := range order {
		s := sums[probe]
		stamp := func(ms int64) string { return time.UnixMilli(ms).UTC().Format(time.RFC3339) }
		texts = append(texts, fmt.Sprintf("%d readings of probe %s measured %s to %s were removed by retention on %s to %s, journal lines %d to %d; of each seal over them the digest stands",
			s.rows, probe, stamp(s.from), stamp(s.to), at[s.first].UTC().Format(time.DateOnly), at[s.last].UTC().Format(time.DateOnly), s.first, s.last))
	}
	return texts
}

// addRemoved puts in what a seal said of readings that are gone.
func (d *database) addRemoved(line int64, rows *evidence.Sealer) error {
	if d.own == nil {
		return nil
	}
	strands, err := d.own.RemovedStrands(line)
	for _, s := range strands {
		if !rows.Add(s) {
			return fmt.Errorf("there are rows of %q, and it says that they were removed", s.Name)
		}
	}
	return err
}

// gone says when readings of the batch were removed; empty: none were.
func (d *database) gone(b *process.Batch) string {
	if d.own == nil {
		return ""
	}
	var probes []string
	for _, t := range b.Tracks {
		probes = append(probes, t.Probe.Probe)
	}
	on, err := d.own.WasRemoved(probes, b.Started.Add(-time.Hour), b.Now.Add(time.Hour))
	switch {
	case err != nil:
		return err.Error()
	case on.IsZero():
		return ""
	}
	return "readings of it were removed by retention on " + on.UTC().Format(time.DateOnly)
}

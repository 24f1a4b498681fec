package verify

import (
	"bytes"
	"context"

	"flitch/process/evidence"
	"flitch/store/fleet"
)

// Site looks at all that one site of a fleet has sent, from those rows alone: as far as it
// was sent, the journal, the seals, the signatures, every clock, and the proof and record of every
// closed batch. given is as in Database.
func Site(ctx context.Context, s *fleet.Site, given string) (evidence.Report, error) {
	var report evidence.Report
	if err := s.Whole(ctx, &report); err != nil {
		return report, err
	}
	report, err := Elsewhere(ctx, s, given, report)
	if err != nil {
		return report, err
	}
	return report, papers(ctx, s, given, &report)
}

// papers looks at the records and proofs of closed batches, each by itself and against the
// journal that is there.
func papers(ctx context.Context, s *fleet.Site, given string, report *evidence.Report) error {
	const what = "records"
	lines := map[int64]string{}
	seals, err := s.Seals()
	if err != nil {
		return nil // told already
	}
	for _, one := range seals {
		lines[one.Seq] = one.Hash
	}
	papers, err := s.Papers(ctx)
	if err != nil {
		return err
	}
	good, named := 0, map[string]bool{}
	for _, p := range papers {
		named[p.Batch] = true
		record, proof, err := s.Paper(ctx, p)
		if err != nil {
			return err
		}
		if len(proof) == 0 {
			report.Add(evidence.NotMeasured, what, "batch %s: its proof is at the site only: too long to send, or for the line", p.Batch)
			continue
		}
		if bad := paper(p, record, proof, given, lines); bad != "" {
			report.Add(evidence.NotMet, what, "batch %s: %s", p.Batch, bad)
			continue
		}
		good++
	}
	batches, err := s.Batches()
	if err != nil {
		return err
	}
	for _, b := range batches {
		if b.Status != "open" && !named[b.ID] {
			report.Add(evidence.LookAt, what, "batch %s is closed, and no record of it is here yet, or any more", b.ID)
		}
	}
	if good > 0 {
		report.Add(evidence.Met, what, "%d records are as their proofs state them, and their seals stand in the journal", good)
	}
	return nil
}

// paper says what is wrong with one record and its proof; empty: nothing.
func paper(p fleet.Paper, record, proof []byte, given string, lines map[int64]string) (bad string) {
	found := Proof(bytes.NewReader(proof), given)
	if first := found.First(); first != nil {
		return "its proof: " + first.What + ": " + first.Text
	}
	f, _ := evidence.Read(bytes.NewReader(proof), given)
	switch {
	case f == nil:
		return "its proof cannot be read"
	case f.Batch != p.Batch:
		return "its proof is of batch " + f.Batch
	case !bytes.Equal(f.Record, record):
		return "the record is not the one in its proof"
	}
	f.EachSeal(func(line int64, hash string) {
		if lines[line] != hash && bad == "" {
			bad = "a seal of its proof does not stand in the journal"
		}
	})
	return bad
}

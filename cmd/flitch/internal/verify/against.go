package verify

import (
	"io"

	"flitch/process/evidence"
	"flitch/store"
)

// Against holds the journal of a database against a proof that was made of it before: who has
// the key can make the whole chain anew, and cut off its end, but not what he gave away.
func Against(path string, r io.Reader, given string) (evidence.Report, error) {
	const what = "earlier proof"
	f, report := evidence.Read(r, given)
	if f == nil {
		return report, nil
	}
	db, err := store.OpenBeside(path)
	if err != nil {
		return nil, err
	}
	defer db.Close()
	seals, err := db.Seals()
	if err != nil {
		report.Add(evidence.NotMet, what, "%v", err)
		return report, nil
	}
	now := map[int64]string{}
	for _, s := range seals {
		now[s.Seq] = s.Hash
	}
	count, bad := 0, int64(0)
	f.EachSeal(func(line int64, hash string) {
		if count++; now[line] != hash && bad == 0 {
			bad = line
		}
	})
	if bad > 0 {
		report.Add(evidence.NotMet, what, "journal line %d is not there any more: the chain was made anew, or cut off, since the proof of batch %s was made", bad, f.Batch)
	} else {
		report.Add(evidence.Met, what, "its %d seals stand in the database, at the same lines", count)
	}
	return report, nil
}

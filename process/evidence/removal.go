package evidence

import (
	"fmt"
	"time"
)

// RemovedKind is the kind of a journal line that says that readings were removed.
const RemovedKind = "readings removed"

// LeastKept is the shortest time that a rule may keep readings. Proposal: what is of a batch is
// kept by the batch; the rest is of no use to anybody after a month.
const LeastKept = 30 * 24 * time.Hour

// A Removal is readings of one probe that were removed because the owner's rule says how long
// readings are kept. The rows are gone; of each seal over them the strand's count and
// digest stay, by which its root can still be made.
type Removal struct {
	Line                        int64 // of the journal, that says so
	Probe                       string
	FirstSeq, LastSeq           int64
	FirstMeasured, LastMeasured int64 // ms
	Rows                        int64
}

// Text is what the line of the journal says, before the rule.
func (r Removal) Text() string {
	return fmt.Sprintf("%d readings of probe %q, numbers %d to %d, measured %s to %s", r.Rows, r.Probe, r.FirstSeq, r.LastSeq,
		timeOf(r.FirstMeasured).Format(time.RFC3339Nano), timeOf(r.LastMeasured).Format(time.RFC3339Nano))
}

// ProbeStrand is the name of the strand of a probe.
func ProbeStrand(probe string) string { return probeStrand + probe }

// Add adds a strand of which only count and digest are known. False: there are rows of it.
func (s *Sealer) Add(strand Strand) bool {
	for _, one := range s.Strands() {
		if one.Name == strand.Name {
			return false
		}
	}
	s.known = append(s.known, strand)
	return true
}

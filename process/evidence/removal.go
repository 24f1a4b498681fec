package evidence

import (
	"fmt"
	"slices"
	"strings"
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

// ParseRemoval reads a line that begins as Text has written it.
func ParseRemoval(text string) (r Removal, ok bool) {
	var first, last string
	n, err := fmt.Sscanf(text, "%d readings of probe %q, numbers %d to %d, measured %s to %s", &r.Rows, &r.Probe, &r.FirstSeq, &r.LastSeq, &first, &last)
	from, err1 := time.Parse(time.RFC3339Nano, first)
	to, err2 := time.Parse(time.RFC3339Nano, last)
	r.FirstMeasured, r.LastMeasured = from.UnixMilli(), to.UnixMilli()
	return r, n == 6 && err == nil && err1 == nil && err2 == nil && strings.HasPrefix(text, r.Text()+" by ")
}

// SealWith is the seal over the numbers from to to of which the rows of some strands may be missing:
// what is known of these stands in for them where not all of their rows were taken. It returns
// which did.
func (s *Sealer) SealWith(from, to int64, known []Strand) (seal Seal, missing []Strand) {
	strands := s.Strands()
	for _, k := range known {
		i := slices.IndexFunc(strands, func(one Strand) bool { return one.Name == k.Name })
		switch {
		case i < 0:
			strands = append(strands, k)
		case strands[i].Rows == k.Rows:
			continue
		default:
			strands[i] = k
		}
		missing = append(missing, k)
	}
	slices.SortFunc(strands, func(a, b Strand) int { return strings.Compare(a.Name, b.Name) })
	return Seal{From: from, To: to, Rows: rowsOf(strands), Root: Root(from, to, strands)}, missing
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

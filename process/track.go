package process

import (
	"slices"
	"time"

	"flitch/ingest/signal"
	"flitch/process/growth"
)

// maxGaps bounds how many gaps of one probe are kept by name; the minutes they
// cost are always counted.
const maxGaps = 50

// A Gap is a time without believed readings.
type Gap struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// A Track is what one probe has measured for a batch, and the sums that follow
// from it.
type Track struct {
	Probe    PlacedProbe   `json:"probe"`
	First    Sample        `json:"first,omitzero"`    // oldest sample that was counted
	Last     Sample        `json:"last"`              // newest sample that was counted
	Heard    time.Time     `json:"heard"`             // as of when it is known to measure; at first, when the batch began
	GoodRun  int           `json:"good_run"`          // believed samples since the last silence
	Absent   *Absence      `json:"absent,omitempty"`  // its device said that it is gone
	Samples  int64         `json:"samples"`           // believed
	Bad      int64         `json:"bad"`               // not believed
	Flagged  []Flagged     `json:"flagged,omitempty"` // why, and when
	Longest  time.Duration `json:"longest"`           // longest gap
	Gaps     []Gap         `json:"gaps"`              // the first maxGaps of them
	GapCount int64         `json:"gap_count"`         // all of them

	Cure    CureSum            `json:"cure"`
	Cold    ColdSum            `json:"cold"`
	Hold    HoldSum            `json:"hold,omitzero"`
	Hottest float64            `json:"hottest,omitzero"`  // of a chamber, °C
	NotCore time.Duration      `json:"not_core,omitzero"` // a core told of what no core can be
	Outside Sample             `json:"outside,omitzero"`  // the newest of it
	Moist   MoistSum           `json:"moist,omitzero"`
	Ferment growth.DegreeHours `json:"ferment,omitzero"`
	CoreSums
	Recent Recent `json:"recent"`

	Checks  []ProbeCheck `json:"checks,omitempty"` // of the probe, from the one in force at the start on
	Sieve   Sieve        `json:"sieve"`
	Pending Sample       `json:"pending,omitzero"`  // of a core that jumped; waits for its minute
	Waits   int64        `json:"waits,omitempty"`   // samples that wait with it
	WaitsAt time.Time    `json:"waits_at,omitzero"` // the first of them
	Torn    bool         `json:"torn,omitempty"`    // what lies between Last and the next sample was not seen
	Jumped  bool         `json:"jumped,omitempty"`  // and the clock stepped in it: no line is drawn, however short it looks
	Quick   Sample       `json:"quick,omitzero"`    // newest that changed too fast, and is in no sum
	Still   Still        `json:"still,omitzero"`    // of a chamber or a cold place, at the first of identical readings
	Doubt   signal.Fault `json:"doubt,omitempty"`   // of the newest reading, if it was left out
	Watch   *CookWatch   `json:"watch,omitempty"`   // of a core, once the fire was lit
	Air     *AirWatch    `json:"air,omitempty"`     // of the air of a fridge

	limit rateLimit
}

func newTrack(p PlacedProbe, plan Plan) *Track {
	t := &Track{Probe: p, Checks: slices.Clone(p.Checks)}
	if p.Placement == Core {
		t.Legs = newLegs(plan.Chill)
		t.Lethal = newLethalSum(plan.Lethality)
	}
	if p.Placement == Air {
		t.Air = new(AirWatch)
	}
	return t
}

// speaksIn reports whether the track's probe measures something in that stage.
func (t *Track) speaksIn(s StagePlan) bool {
	if len(t.Probe.For) > 0 && !slices.Contains(t.Probe.For, s.Name) {
		return false
	}
	switch t.Probe.Placement {
	case Product, Air, Door, Power:
		return s.Where == WhereFridge || s.Where == WhereFreezer
	case Chamber, WetBulb, Humidity:
		return s.Where == WhereSmoker
	}
	return true
}

// allowed is the spacing of readings up to which there is no gap: three
// expected intervals, at least 5 min (proposal of the job's alarm table, B1).
func (p PlacedProbe) allowed() time.Duration { return max(3*p.Interval, 5*time.Minute) }

// advance counts a believed sample and returns the segment it closes. ok is false for
// the first sample.
func (t *Track) advance(s Sample) (seg segment, ok bool) {
	first := t.Last.At.IsZero()
	seg = segment{from: t.Last.At, to: s.At, v1: t.Last.Value, v2: s.Value, gap: t.Torn, jumped: t.Jumped}
	t.Last, t.Torn, t.Jumped = s, false, false
	t.Recent.add(t.Last)
	if first {
		t.First = s
		return segment{}, false
	}
	t.markGap(&seg)
	return seg, true
}

func (t *Track) hear(at time.Time) {
	if at.Sub(t.Heard) > t.Probe.allowed() {
		t.GoodRun = 0
	}
	if at.After(t.Heard) {
		t.Heard = at
	}
	t.GoodRun++
}

func (t *Track) markGap(s *segment) {
	long := s.to.Sub(s.from)
	if long <= t.Probe.allowed() {
		return
	}
	s.gap = true
	t.GapCount++
	t.Longest = max(t.Longest, long)
	if len(t.Gaps) < maxGaps {
		t.Gaps = append(t.Gaps, Gap{s.from, s.to})
	}
}

// silence returns how long the probe has not been heard, as of now. Two believed
// readings in a row end a silence.
func (t *Track) silence(now, since time.Time) time.Duration {
	heard := t.Heard
	if heard.Before(since) {
		heard = since
	}
	if t.GoodRun == 1 && t.Samples > 1 {
		return max(now.Sub(heard), t.Probe.allowed())
	}
	return now.Sub(heard)
}

// Recent holds about an hour of samples, a minute apart, for slopes.
type Recent struct {
	Samples []Sample `json:"samples"`
}

// recentSize is enough for the 40 min of the chill forecast and the hour of the
// fire watch.
const recentSize = 64

func (r *Recent) add(s Sample) {
	n := len(r.Samples)
	if n > 0 && s.At.Sub(r.Samples[n-1].At) < time.Minute {
		return
	}
	if n == recentSize {
		copy(r.Samples, r.Samples[1:])
		r.Samples[n-1] = s
		return
	}
	r.Samples = append(r.Samples, s)
}

// before returns the newest sample at least d older than now.
func (r *Recent) before(now time.Time, d time.Duration) (Sample, bool) {
	for i := len(r.Samples) - 1; i >= 0; i-- {
		if now.Sub(r.Samples[i].At) >= d {
			return r.Samples[i], true
		}
	}
	return Sample{}, false
}

// since returns the samples not older than d.
func (r *Recent) since(now time.Time, d time.Duration) []Sample {
	for i, s := range r.Samples {
		if now.Sub(s.At) <= d {
			return r.Samples[i:]
		}
	}
	return nil
}

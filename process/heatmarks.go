package process

import "time"

// markedF are the core temperatures by which cooks are compared, °F.
var markedF = [...]float64{100, 120, 130, 145}

// A HeatMark is when the slowest core came to a temperature.
type HeatMark struct {
	C     float64 `json:"c"`
	Hours float64 `json:"h"`     // since the heat stage began
	Known bool    `json:"known"` // false: not seen in every core, or not reached
}

// HeatMarks are how long after the beginning of the heat the last core came to 100, 120,
// 130 and 145 °F: the marks by which cooks are compared (proposal). A core that was not
// watched, or that did not come so far, leaves the mark unknown. ok is false when no core
// was watched in a heat.
func (b *Batch) HeatMarks() (marks []HeatMark, ok bool) {
	from := b.heatEntered()
	for _, f := range markedF {
		m := HeatMark{C: (f - 32) / 1.8, Known: !from.IsZero()}
		b.eachTrack(Core, func(t *Track) {
			at, reached := t.reached(m.C)
			ok = ok || t.Watch != nil && len(t.Watch.Course.Core) > 0
			m.Known = m.Known && reached
			m.Hours = max(m.Hours, at.Sub(from).Hours())
		})
		if m.Known = m.Known && ok; !m.Known {
			m.Hours = 0
		}
		marks = append(marks, m)
	}
	return marks, ok
}

// heatEntered is when the first heat stage was entered; zero: none was.
func (b *Batch) heatEntered() time.Time {
	for _, e := range b.Stages {
		if b.Plan.stage(e.Name).Heat {
			return e.Entered
		}
	}
	return time.Time{}
}

// reached is the first minute of the heat in which the core was at a temperature.
func (t *Track) reached(c float64) (at time.Time, ok bool) {
	if t.Watch == nil {
		return at, false
	}
	course := &t.Watch.Course
	for n, core := range course.Core {
		if core != noMinute && float64(core)/100 >= c {
			return course.From.Add(time.Duration(n) * time.Minute), true
		}
	}
	return at, false
}

// Stalled is how long the slowest core of the batch stood in stalls, summed; those of two
// cores at a time count once for each, so the longest sum of one core is given.
func (b *Batch) Stalled() (longest time.Duration) {
	sums := map[string]time.Duration{}
	for _, h := range b.Happenings {
		if h.Name != "stall" {
			continue
		}
		to := h.To
		if to.IsZero() {
			to = b.Now
		}
		sums[h.Probe] += to.Sub(h.From)
		longest = max(longest, sums[h.Probe])
	}
	return longest
}

// CureSpan is from the last dose, or the beginning of the cure, to its end; to is zero
// while the batch lies in it, and from where it never did.
func (b *Batch) CureSpan() (from, to time.Time) {
	e, ok := b.entry(StageCure)
	if !ok {
		return from, to
	}
	if from = e.Entered; b.lastDosed().After(from) {
		from = b.lastDosed()
	}
	return from, e.Left
}

// Packed is when the batch was packed, or stored without that; zero: it was not.
func (b *Batch) Packed() time.Time {
	at, _ := b.packed()
	return at
}

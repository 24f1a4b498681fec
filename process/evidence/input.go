package evidence

import (
	"encoding/json"
	"fmt"
	"time"

	"flitch/process"
)

func timeOf(ms int64) time.Time { return time.UnixMilli(ms).UTC() }

// Input is the row as it was evaluated.
func (r *Row) Input() (process.Input, error) {
	in := process.Input{Seq: r.Seq, Kind: r.Kind, At: timeOf(r.At)}
	switch r.Kind {
	case process.InputReading:
		in.Reading = r.reading()
	case process.InputCommand:
		if err := json.Unmarshal([]byte(r.Body), &in.Command); err != nil {
			return in, fmt.Errorf("number %d: what was said cannot be read: %w", r.Seq, err)
		}
		if c := in.Command; c.ID != r.ID || c.Batch != r.Batch {
			return in, fmt.Errorf("number %d: it is filed as %q of batch %q and says %q of batch %q", r.Seq, r.ID, r.Batch, c.ID, c.Batch)
		}
	}
	return in, nil
}

// reading is as the store gives it: a reading without a mark that was measured at another
// instant than it came in carried that instant as its device time.
func (r *Row) reading() process.Reading {
	out := process.Reading{Probe: r.Probe, Measured: timeOf(r.Measured), Received: timeOf(r.Received), Value: r.Value}
	if m := r.Mark; m != nil {
		out.Quality, out.Reason, out.Raw = m.Quality, m.Reason, m.Raw
		if m.Device != nil {
			out.Device = timeOf(*m.Device)
		}
	} else if r.Measured != r.Received {
		out.Device = out.Measured
	}
	return out
}

// clockSet is by how much the times at which things were typed may run backwards along the
// log before it is told: two that are typed in the same moment may change places. Proposal.
const clockSet = 2 * time.Minute

// A Typing watches when commands were typed. Whoever puts in an entry with an earlier time
// later gives it a number among later ones.
type Typing struct {
	Said     int // commands
	Late     int // typed more than a minute after they happened, by their own word: both times stand
	Backward []string
	newest   time.Time
}

// Take looks at a command; they come in the order of their numbers.
func (t *Typing) Take(in process.Input) {
	c := in.Command
	if c.Typed.IsZero() { // flitch's own word of itself has no other time than the log's
		return
	}
	t.Said++
	if c.Typed.Sub(c.At) > time.Minute {
		t.Late++
	}
	if back := t.newest.Sub(c.Typed); back > clockSet {
		t.Backward = append(t.Backward, fmt.Sprintf("number %d (%s by %s) was typed %s, %s before what is in front of it",
			in.Seq, c.Kind, c.By, c.Typed.UTC().Format(time.RFC3339), back.Round(time.Minute)))
	}
	if c.Typed.After(t.newest) {
		t.newest = c.Typed
	}
	if ahead := c.At.Sub(c.Typed); ahead > clockSet {
		t.Backward = append(t.Backward, fmt.Sprintf("number %d (%s by %s) says that it happened %s after it was typed", in.Seq, c.Kind, c.By, ahead.Round(time.Minute)))
	}
	if ahead := c.Typed.Sub(in.At); ahead > clockSet {
		t.Backward = append(t.Backward, fmt.Sprintf("number %d (%s by %s) was typed %s after it was taken in", in.Seq, c.Kind, c.By, ahead.Round(time.Minute)))
	}
}

// Report says what was found.
func (t *Typing) Report(r *Report) {
	r.Add(Met, "entries", "%d typed, %d of them more than a minute after they happened; both times stand", t.Said, t.Late)
	for i, text := range t.Backward {
		if i == 5 {
			r.Add(LookAt, "entries", "and %d more", len(t.Backward)-i)
			break
		}
		r.Add(LookAt, "entries", "%s: the clock was set, or it is back-dated", text)
	}
}

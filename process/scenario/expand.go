package scenario

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"flitch/ingest/signal"
	"flitch/process"
)

// An Entry is one thing the house takes in, and the line it comes from.
type Entry struct {
	Line  int
	Input process.Input // without its number
}

// Start is the command that begins the batch by a plan.
func (s *Scenario) Start(plan process.Plan) process.Input {
	at := s.At(0)
	return process.Input{Kind: process.InputCommand, At: at, Command: process.Command{ID: "begin", Kind: process.CommandNew, Batch: s.Batch, By: s.By,
		At: at, Typed: at, New: &process.NewBatch{Plan: plan, Pieces: slices.Clone(s.Pieces), Probes: slices.Clone(s.Probes)}}}
}

// End is when the last thing happened or was to be expected.
func (s *Scenario) End() time.Time {
	end := time.Duration(0)
	for _, l := range s.Lines {
		switch i := l.Item.(type) {
		case Series:
			end = max(end, i.To)
		case Mark:
			end = max(end, i.To, i.Arrives)
		case Single:
			end = max(end, i.At)
		case Event:
			end = max(end, i.At, i.Typed)
		case Away:
			end = max(end, i.To)
		case Expectation:
			end = max(end, i.To)
		}
	}
	return s.At(end)
}

// Expand returns all that comes in, in the order it does; at one time what people
// say comes before what probes say.
func (s *Scenario) Expand() []Entry {
	var entries []Entry
	for i, l := range s.Lines {
		if e, ok := l.Item.(Event); ok && e.Kind != "door" {
			entries = append(entries, Entry{l.Number, s.input(e, i)})
		}
	}
	for _, probe := range s.Probes {
		entries = append(entries, s.readings(probe)...)
	}
	slices.SortStableFunc(entries, func(a, b Entry) int { return a.Input.At.Compare(b.Input.At) })
	return entries
}

// A said is one value of a probe before it comes in.
type said struct {
	line  int
	at    time.Duration
	value float64
}

func (s *Scenario) readings(probe process.PlacedProbe) []Entry {
	said, marks := s.says(probe), s.marks(probe)
	entries := make([]Entry, 0, len(said))
	for _, v := range said {
		r := process.Reading{Probe: probe.Probe, Measured: s.At(v.at), Received: s.At(v.at), Value: v.value}
		if s.marked(&r, v.at, marks) {
			continue
		}
		if reason, ok := signal.Check(r.Value, string(probe.Placement)); !ok {
			r.Quality, r.Reason = process.Bad, reason
		}
		entries = append(entries, Entry{v.line, process.Input{Kind: process.InputReading, At: r.Received, Reading: r}})
	}
	slices.SortStableFunc(entries, func(a, b Entry) int { return a.Input.At.Compare(b.Input.At) })
	return entries
}

// says is every value of a probe in order of the time it was measured.
func (s *Scenario) says(probe process.PlacedProbe) []said {
	var out []said
	for i, l := range s.Lines {
		switch v := l.Item.(type) {
		case Series:
			if v.Probe == probe.Probe {
				out = append(out, s.sampled(v, probe, l.Number, uint64(i))...)
			}
		case Event:
			if v.Kind == "door" && v.Name == probe.Probe {
				out = put(out, said{l.Number, v.At, v.Value.value()})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b said) int { return int(a.at - b.at) })
	for _, l := range s.Lines {
		if v, ok := l.Item.(Single); ok && v.Probe == probe.Probe {
			out = place(out, v, l.Number)
		}
	}
	return out
}

// put adds a value, in the place of one at the same time.
func put(list []said, v said) []said {
	for i := range list {
		if list[i].at == v.at {
			list[i] = v
			return list
		}
	}
	return append(list, v)
}

// place puts a single reading into the list, which is in order of time.
func place(list []said, v Single, line int) []said {
	next := said{line, v.At, v.Value.value()}
	i, exact := slices.BinarySearchFunc(list, v.At, func(e said, at time.Duration) int { return int(e.at - at) })
	switch {
	case v.Spike && i < len(list):
		next.at = list[i].at
		list[i] = next
	case exact:
		list[i] = next
	default:
		list = slices.Insert(list, i, next)
	}
	return list
}

// sampled is a series at its interval, with its noise.
func (s *Scenario) sampled(v Series, probe process.PlacedProbe, line int, nth uint64) []said {
	chance := rand.New(rand.NewPCG(s.Seed, nth))
	every := v.interval(probe)
	out := make([]said, 0, (v.To-v.From)/every+1)
	for at := v.From; at < v.To; at += every {
		value := v.of(at - v.From)
		if !v.Noise.zero() {
			value += v.Noise.difference() * chance.NormFloat64()
		}
		if probe.Placement != process.Door {
			value = math.Round(value*100) / 100
		}
		out = append(out, said{line, at, value})
	}
	return out
}

func (v Series) interval(probe process.PlacedProbe) time.Duration {
	if v.Every > 0 {
		return v.Every
	}
	return probe.Interval
}

func (s *Scenario) marks(probe process.PlacedProbe) (list []Mark) {
	for _, l := range s.Lines {
		if m, ok := l.Item.(Mark); ok && m.Probe == probe.Probe {
			list = append(list, m)
		}
	}
	return list
}

// marked changes how a reading comes in by the marks; lost reports that it never does.
func (s *Scenario) marked(r *process.Reading, at time.Duration, marks []Mark) (lost bool) {
	for _, m := range marks {
		if at < m.From || at >= m.To {
			continue
		}
		switch m.Kind {
		case "gap":
			return true
		case "late":
			r.Received = s.At(m.Arrives)
		case "doubt":
			r.Quality, r.Reason = process.Suspect, m.Why
			r.Device = time.Unix(0, 0).UTC().Add(at - m.From) // a clock that began again
		}
	}
	return false
}

// input is what a person said, or flitch of itself. The door is told by its probe.
func (s *Scenario) input(e Event, nth int) process.Input {
	at, typed := s.At(e.At), s.At(max(e.At, e.Typed))
	c := process.Command{ID: fmt.Sprintf("line-%d", nth), Batch: s.Batch, By: e.By, At: at, Typed: typed, Pieces: slices.Clone(e.Pieces), Text: e.Text}
	if c.By == "" {
		c.By = s.By
	}
	if own, is := s.own(e, c); is {
		return process.Input{Kind: process.InputCommand, At: at, Command: own}
	}
	switch e.Kind {
	case "stage":
		c.Kind, c.Stage = process.CommandStage, process.StageName(e.Name)
	case "turned":
		c.Kind = process.CommandTurned
	case "weighed":
		c.Kind, c.Value = process.CommandWeighed, e.Value.value()
	case "checked":
		c.Kind, c.Check = process.CommandChecked, &process.CheckSaid{Probe: e.Name, Method: process.CheckIce, ReadC: e.Value.value()}
	case "dosed":
		c.Kind, c.Dosing = process.CommandDosed, e.dosing()
	case "counted":
		c.Kind, c.Value = process.CommandCounted, e.Value.value()
	case "hand-reading":
		c.Kind, c.Placement, c.Value = process.CommandReading, e.Of, e.Value.value()
	case "note":
		c.Kind = process.CommandNote
	case "acknowledged":
		c.Kind, c.Text = process.CommandAcknowledge, e.Name
	case "close":
		c.Kind = process.CommandClose
	}
	return process.Input{Kind: process.InputCommand, At: typed, Command: c}
}

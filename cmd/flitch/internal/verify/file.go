package verify

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"flitch/process"
	"flitch/process/engine"
	"flitch/process/evidence"
	"flitch/process/record"
)

// A stated is what is compared of the record in a proof.
type stated struct {
	Head struct {
		Batch   string             `json:"batch"`
		By      string             `json:"by"`
		Class   process.Class      `json:"class"`
		Started time.Time          `json:"started"`
		Closed  time.Time          `json:"closed"`
		Plan    record.PlanVersion `json:"plan"`
		Pieces  json.RawMessage    `json:"pieces"`
	} `json:"head"`
	Clocks []process.Clock `json:"clocks"`
	Stages json.RawMessage `json:"stages"`
	Data   []struct {
		process.PlacedProbe
		From       time.Time     `json:"from"`
		To         time.Time     `json:"to"`
		Count      int           `json:"count"`
		Late       int           `json:"late"`
		LongestGap time.Duration `json:"longest_gap_ns"`
	} `json:"data"`
	Readings string `json:"readings_sha256"`
}

// Proof looks at the proof of one batch. given is as in Database.
func Proof(r io.Reader, given string) evidence.Report {
	f, report := evidence.Read(r, given)
	if f == nil {
		return report
	}
	var s stated
	if err := json.Unmarshal(f.Record, &s); err != nil {
		report.Add(evidence.NotMet, "record", "it cannot be read: %v", err)
		return report
	}
	recount(f, &s, &report)
	coverage(f, &s, &report)
	return report
}

// maxRecord is how large the JSON of a record may be.
const maxRecord = evidence.MaxLine

// Stated returns the SHA-256 of the CSV of the readings that a record states, in a proof or in
// its JSON; empty: none. Of JSON nothing else can be looked at.
func Stated(r io.Reader, given string) (sum string, report evidence.Report) {
	in := bufio.NewReader(r)
	var s stated
	if head, err := in.Peek(1); err == nil && head[0] == '{' {
		if err := json.NewDecoder(io.LimitReader(in, maxRecord)).Decode(&s); err != nil {
			report.Add(evidence.NotMet, "record", "it cannot be read: %v", err)
			return "", report
		}
		report.Add(evidence.NotMeasured, "record", "JSON is not signed: anybody could have changed it with the CSV")
		return s.Readings, report
	}
	f, report := evidence.Read(in, given)
	if f == nil {
		return "", report
	}
	if err := json.Unmarshal(f.Record, &s); err != nil {
		report.Add(evidence.NotMet, "record", "it cannot be read: %v", err)
	}
	return s.Readings, report
}

// recount computes the batch anew from the readings in the file.
func recount(f *evidence.File, s *stated, report *evidence.Report) {
	const what = "clocks"
	fresh, err := anew(f)
	if err != nil {
		report.Add(evidence.NotMet, what, "%v", err)
		return
	}
	if bad := sameHead(s, fresh); bad != "" {
		report.Add(evidence.NotMet, "record", "it states something else than was said of the batch: %s", bad)
	}
	if bad := sameClocks(s.Clocks, fresh.Clocks(f.AsOfTime())); bad != "" {
		report.Add(evidence.NotMet, what, "%s", bad)
		return
	}
	report.Add(evidence.Met, what, "%d clocks of batch %s come out of the readings in the file as they are stated", len(s.Clocks), f.Batch)
	for _, c := range s.Clocks {
		report.Add(evidence.Met, what, "%s: %s, as stated", c.Name, word(c.Verdict))
	}
}

// anew is the batch of a file.
func anew(f *evidence.File) (*process.Batch, error) {
	if err := plausible(f); err != nil {
		return nil, err
	}
	return guarded(f, f.Batch, f.Seen, f.AsOfTime())
}

// guarded is engine.Anew of a log that nobody has checked: the core trusts what the daemon let
// through, and a stranger's plan may do to it what no plan does.
func guarded(log engine.Log, batch string, through int64, now time.Time) (b *process.Batch, err error) {
	defer func() {
		if wrong := recover(); wrong != nil {
			b, err = nil, fmt.Errorf("what was said of the batch makes no sense: %v", wrong)
		}
	}()
	return engine.Anew(log, batch, through, now)
}

// longest is how far two times of one batch may be apart: some hams hang for three years.
// Whoever writes more wants to keep a machine busy. Proposal.
const longest = 10 * 366 * 24 * time.Hour

// plausible refuses a file by which the clocks would have to run for centuries.
func plausible(f *evidence.File) error {
	for _, batch := range []string{f.Batch, ""} {
		said, err := f.Commands(batch)
		if err != nil {
			return err
		}
		for _, in := range said {
			c := in.Command
			if batch == "" && c.Kind != process.CommandChecked && c.Kind != process.CommandUnit {
				continue
			}
			if apart := f.AsOfTime().Sub(c.At).Abs(); apart > longest {
				return fmt.Errorf("number %d says that it happened at %s, and the record speaks of %s", in.Seq, c.At.Format(time.RFC3339), f.AsOfTime().Format(time.RFC3339))
			}
		}
	}
	return nil
}

// sameHead says which part of the head of the record is not what was said; empty: none.
func sameHead(s *stated, b *process.Batch) string {
	stages := make([]record.Stage, 0, len(b.Stages))
	for _, one := range b.Stages {
		stages = append(stages, record.Stage(one))
	}
	for _, part := range []struct {
		name string
		same bool
	}{
		{"the name of the batch", s.Head.Batch == b.ID},
		{"who began it", s.Head.By == b.By},
		{"when it began", s.Head.Started.Equal(b.Started)},
		{"when it was closed", s.Head.Closed.Equal(b.Closed)},
		{"the class", s.Head.Class == b.Plan.Class},
		{"the plan", s.Head.Plan == record.PlanVersion{Name: b.Plan.Name, Version: b.Plan.Version, Hash: b.Plan.Hash}},
		{"the pieces", sameJSON(s.Head.Pieces, b.Pieces)},
		{"the stages", sameJSON(s.Stages, stages)},
	} {
		if !part.same {
			return part.name
		}
	}
	return ""
}

// coverage counts the readings of each probe as the record does.
func coverage(f *evidence.File, s *stated, report *evidence.Report) {
	for _, d := range s.Data {
		count, late, gap, last := 0, 0, time.Duration(0), d.From
		f.EachReading([]string{d.Probe}, d.From, d.To, func(seq int64, r process.Reading) error { // fn has no error
			count++
			if r.Received.Sub(r.Measured) > record.LateAfter {
				late++
			}
			if r.Quality != process.Bad {
				gap, last = max(gap, r.Measured.Sub(last)), r.Measured
			}
			return nil
		})
		gap = max(gap, d.To.Sub(last))
		switch {
		case count != d.Count || late != d.Late:
			report.Add(evidence.NotMet, "coverage", "%s: %d readings, %d late are in the file; the record states %d and %d", d.Probe, count, late, d.Count, d.Late)
		case gap > max(d.LongestGap, record.GapAfter(d.Interval)):
			report.Add(evidence.NotMet, "coverage", "%s: it was silent for %s; the record states %s", d.Probe, gap, d.LongestGap)
		default:
			report.Add(evidence.Met, "coverage", "%s: %d readings, the longest gap as stated (%s)", d.Probe, count, d.LongestGap)
		}
	}
}

package engine

import (
	"context"
	"crypto/rand"
	"maps"
	"slices"
	"strings"
	"time"

	"flitch/process"
)

// The parts of flitch that can be out of order.
const (
	FaultBroker = "broker"               // the outside broker is out of reach
	FaultDisk   = "disk"                 // a write failed
	FaultSlow   = "slow disk"            // writes take seconds
	FaultDamage = "database file"        // a part of it could not be read
	FaultPhone  = "phone path "          // followed by the name of the channel
	FaultEnds   = "page certificate"     // its end is near, or past
	FaultBackup = "database"             // the newest copy could not be made
	FaultClock  = "this machine's clock" // it stepped, or says what cannot be
	FaultTwins  = "client id "           // followed by what several devices call themselves
	FaultRecord = "record key"           // the log cannot be sealed, or not be signed
	FaultFleet  = "fleet"                // nothing can be sent to the database of many sites
)

// Report stores that a part of flitch itself failed or is back. It is an input
// like any other, so that a replay tells the same story.
func (e *Engine) Report(ctx context.Context, part string, failed bool) error {
	c := process.Command{ID: rand.Text(), Kind: process.CommandFault, By: "flitch", Text: part}
	if failed {
		c.Value = 1
	}
	return e.Do(ctx, c)
}

// ReportGap stores, for the journal and the records, that for a time nothing could be
// stored, once that is over.
func (e *Engine) ReportGap(ctx context.Context, from, to time.Time, words string) error {
	return e.Do(ctx, process.Command{ID: rand.Text(), Kind: process.CommandFault, By: "flitch", Text: FaultDisk, At: from.UTC(), Until: to.UTC(), Of: words})
}

// ReportEnd stores when the certificate of the page ends, if that is near; zero says that
// it is not.
func (e *Engine) ReportEnd(ctx context.Context, ends time.Time) error {
	c := process.Command{ID: rand.Text(), Kind: process.CommandFault, By: "flitch", Text: FaultEnds, Until: ends.UTC()}
	if !ends.IsZero() {
		c.Value = 1
	}
	return e.Do(ctx, c)
}

// endDetails say until when phones trust the page.
func (h *House) endDetails() []string {
	zone := h.policy.Location
	if zone == nil {
		zone = time.UTC
	}
	return []string{"Its last day is " + h.ends.In(zone).Format("Mon 2 Jan 2006") + "; then phones open the page no more, and cannot answer by its links."}
}

func (h *House) takeFault(in process.Input) {
	part, failed := in.Command.Text, in.Command.Value != 0
	if in.Command.Clock != nil {
		h.takeClock(in)
	}
	switch {
	case part == FaultEnds:
		h.ends = in.Command.Until
	case in.Command.Of != "":
		h.pending.note(process.JournalLine{At: in.At, Kind: "gap", By: "flitch", Text: in.Command.Of})
		return
	}
	if _, standing := h.faults[part]; standing == failed {
		return
	}
	kind := "fault"
	if failed {
		h.faults[part] = in.At
		h.findPaths()
	} else {
		delete(h.faults, part)
		kind = "fault over"
		if path := pathOf(part); len(h.ways(path)) == 0 {
			delete(h.paths, path)
			h.tellFault(path, 0, in)
		}
	}
	h.pending.note(process.JournalLine{At: in.At, Kind: kind, By: "flitch", Text: part})
	h.tellFaults(in)
}

// pathOf is what a part is told of as: all phones of one channel are one path, because
// they fail together when the push service or the internet does.
func pathOf(part string) string {
	if strings.HasPrefix(part, FaultPhone) {
		part, _, _ = strings.Cut(part, "/")
	}
	return part
}

// findPaths notes since when each path has had a fault without a break. One that began
// with another phone than those that are out of reach now goes on.
func (h *House) findPaths() {
	for part, since := range h.faults {
		path := pathOf(part)
		if begun, standing := h.paths[path]; !standing || since.Before(begun) {
			h.paths[path] = since
		}
	}
}

// ways are the parts of a path that are out of order.
func (h *House) ways(path string) (parts []string) {
	for _, part := range slices.Sorted(maps.Keys(h.faults)) {
		if pathOf(part) == path {
			parts = append(parts, part)
		}
	}
	return parts
}

// pathDetails names the phones that cannot be reached, by their numbers in the list.
func (h *House) pathDetails(path string) []string {
	var phones []string
	for _, part := range h.ways(path) {
		if _, number, ok := strings.Cut(part, "/"); ok {
			phones = append(phones, "no. "+number)
		}
	}
	if len(phones) == 0 {
		return nil
	}
	return []string{"Phones that cannot be reached: " + strings.Join(phones, ", ") + " of the list."}
}

// tellFaults gives the alarm machine each path that has a fault.
func (h *House) tellFaults(in process.Input) {
	for _, path := range slices.Sorted(maps.Keys(h.paths)) {
		h.tellFault(path, in.At.Sub(h.paths[path]), in)
	}
	h.endWays(in.At)
}

// endWays ends alarms of before phones were told of as one path.
func (h *House) endWays(now time.Time) {
	var alone []string
	for key, a := range h.board.alarms {
		if pathOf(key.subject) != key.subject && a.Latest.Active {
			alone = append(alone, key.subject)
		}
	}
	slices.Sort(alone)
	for _, way := range alone {
		h.board.signal(process.Finding{Measure: process.MeasurePathAway, Subject: way, At: now, State: process.Over}, h.events)
	}
}

func (h *House) tellFault(part string, age time.Duration, in process.Input) {
	f := process.Finding{Measure: process.MeasurePathAway, Subject: part, At: in.At, Value: age.Minutes()}
	_, standing := h.faults[part]
	switch {
	case part == FaultDisk && standing:
		f.Measure, f.Value = process.MeasureDiskFault, 1
	case part == FaultDisk:
		f.Measure, f.Value = process.MeasureDiskFault, 0
	case part == FaultSlow:
		f.Measure, f.Value = process.MeasureDiskSlow, oneIf(standing)
	case part == FaultDamage:
		f.Measure, f.Value = process.MeasureDamage, oneIf(standing)
	case part == FaultClock:
		f.Measure, f.Value = process.MeasureMachineClock, oneIf(standing)
	case strings.HasPrefix(part, FaultTwins):
		f.Measure = process.MeasureTwins
	case part == FaultBackup:
		f.Measure = process.MeasureBackup
	case part == FaultRecord:
		f.Measure = process.MeasureUnsigned
	case part == FaultFleet:
		f.Measure = process.MeasureFleet
	case part == FaultEnds && standing:
		f.Measure, f.Value = process.MeasureCertificate, age.Hours()/24
	case part == FaultEnds:
		f.Measure, f.State = process.MeasureCertificate, process.Over
	}
	h.board.signal(f, h.events)
}

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

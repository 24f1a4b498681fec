package evidence

import (
	"cmp"
	"slices"
	"time"

	"flitch/process"
)

// A held reading is one in as few bytes as will do: there may be millions.
type held struct {
	seq, measured, received int64
	value                   float64
	mark                    *Mark
	probe                   uint16
}

func (f *File) hold(r *Row) {
	f.readings = append(f.readings, held{r.Seq, r.Measured, r.Received, r.Value, r.Mark, uint16(slices.Index(f.Probes, r.Probe))})
}

// Commands is what was said of a batch, in the order of the log; of the house, if it is empty.
func (f *File) Commands(batch string) ([]process.Input, error) {
	var out []process.Input
	for _, in := range f.commands {
		if in.Command.Batch == batch {
			out = append(out, in)
		}
	}
	return out, nil
}

// EachReading calls fn for each reading of the probes measured in [from, to), by the time
// measured, then by number, and stops at its first error. A zero to means no end.
func (f *File) EachReading(probes []string, from, to time.Time, fn func(seq int64, r process.Reading) error) error {
	slices.SortFunc(f.readings, func(a, b held) int {
		return cmp.Or(cmp.Compare(a.measured, b.measured), cmp.Compare(a.seq, b.seq))
	})
	for _, h := range f.readings {
		at := timeOf(h.measured)
		if at.Before(from) || !to.IsZero() && !at.Before(to) || !slices.Contains(probes, f.Probes[h.probe]) {
			continue
		}
		row := Row{Seq: h.seq, Probe: f.Probes[h.probe], Measured: h.measured, Received: h.received, Value: h.value, Mark: h.mark}
		if err := fn(h.seq, row.reading()); err != nil {
			return err
		}
	}
	return nil
}

// AsOfTime is the moment the record speaks of.
func (f *File) AsOfTime() time.Time { return timeOf(f.AsOf) }

// EachSeal calls fn for each line of the journal in the file that is a seal, with its hash.
func (f *File) EachSeal(fn func(line int64, hash string)) {
	for _, h := range f.hashes {
		fn(h.line, h.hash)
	}
}

package ingest

import (
	"strings"

	"flitch/ingest/decode"
	"flitch/ingest/signal"
	"flitch/process"
)

// A batch is what one transaction stores, and whom to tell afterwards.
type batch struct {
	items    []*item
	readings []process.Reading
	rejected []decode.Rejection
	absorbed int // readings recognised as known before the store saw them
}

// add judges the values of it, in order, into the batch. The error is the one of
// isTaken.
func (b *batch) add(it *item, isTaken taken) error {
	for i := range it.values {
		if it.retained && it.values[i].sample.Device.IsZero() {
			it.refuse(retained())
			continue
		}
		if err := b.addSample(it, it.values[i], isTaken); err != nil {
			return err
		}
	}
	if r := it.rejection(); r != nil {
		b.rejected = append(b.rejected, *r)
	}
	b.items = append(b.items, it)
	return nil
}

// retained refuses a copy the broker had kept: stored with the time of arrival it
// would pass for a fresh reading.
func retained() error {
	return &decode.Problem{Class: "retained", Text: "retained copy of unknown age: the payload carries no time"}
}

// addSample dates and judges one value.
func (b *batch) addSample(it *item, v value, isTaken taken) error {
	r, s := v.route, v.sample
	d, err := r.track.date(s, it.received, r.probe.Interval, isTaken)
	if err != nil {
		return err
	}
	if d.duplicate {
		b.absorbed++
		return nil
	}
	reading := process.Reading{
		Probe: r.probe.Probe, Measured: d.measured, Received: it.received,
		Device: s.Device, Value: s.Value,
	}
	if d.doubt != "" {
		reading.Quality, reading.Reason = process.Suspect, d.doubt
	}
	if reason, ok := signal.Check(s.Value, string(r.probe.Placement), r.missing...); !ok {
		if d.doubt != "" {
			reason += "; " + d.doubt
		}
		reading.Quality, reading.Reason = process.Bad, reason
	}
	if reading.Quality != process.Good {
		reading.Raw = strings.ToValidUTF8(string(it.raw), "") // may be cut inside a letter
	}
	b.readings = append(b.readings, reading)
	return nil
}

// holds reports whether the batch has a reading of probe at that millisecond.
func (b *batch) holds(probe string, ms int64) bool {
	for i := range b.readings {
		if b.readings[i].Measured.UnixMilli() == ms && b.readings[i].Probe == probe {
			return true
		}
	}
	return false
}

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
	absorbed int  // readings recognised as known before the store saw them
	told     bool // somebody has heard of its readings
	waits    int  // of its readings that were told of as not stored
}

// add judges the values of it, in order, into the batch. The error is the one of
// isTaken.
func (b *batch) add(it *item, isTaken taken) error {
	for _, v := range it.values {
		if it.retained && v.sample.Device.IsZero() {
			it.refuse(retained("the payload carries no time"))
			continue
		}
		if err := b.addSample(it, v, isTaken); err != nil {
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
func retained(why string) error {
	return &decode.Problem{Class: "retained", Text: "retained copy of unknown age: " + why}
}

// addSample dates and judges one value. What was stored before it was sent, by the
// sensor or by a broker, is taken at its own time or not at all.
func (b *batch) addSample(it *item, v value, isTaken taken) error {
	r, s := v.route, v.sample
	s.Backfill = s.Backfill || it.retained
	d, err := r.track.date(s, it.received, r.probe.Interval, isTaken)
	if err != nil {
		return err
	}
	switch {
	case d.duplicate:
		b.absorbed++
		return nil
	case d.measured.IsZero() && it.retained:
		it.refuse(retained(d.doubt))
		return nil
	case d.measured.IsZero():
		it.refuse(&decode.Problem{Class: decode.NoTime, Text: d.doubt})
		return nil
	}
	b.readings = append(b.readings, r.judge(it, s, v.why, d))
	return nil
}

// judge makes a reading of a sample that is dated; why is what a bare sensor has to say
// against it.
func (r *route) judge(it *item, s decode.Sample, why string, d date) process.Reading {
	reading := process.Reading{
		Probe: r.probe.Probe, Measured: d.measured, Received: it.received,
		Device: s.Device, Value: s.Value,
	}
	if d.believed { // of a time that comes twice, the one it was
		reading.Device = d.measured
	}
	doubt := d.doubt
	if s.Doubt != "" {
		doubt = strings.TrimPrefix(doubt+"; "+s.Doubt, "; ")
	}
	if doubt != "" {
		reading.Quality, reading.Reason = process.Suspect, doubt
	}
	if reason := r.wrong(s, why); reason != "" {
		if doubt != "" {
			reason += "; " + doubt
		}
		reading.Quality, reading.Reason = process.Bad, reason
	}
	if reading.Quality != process.Good {
		reading.Raw = strings.ToValidUTF8(string(it.raw), "") // may be cut inside a letter
	}
	return reading
}

// wrong says why a sample is no measurement; "" when it is one. A number that this probe
// sends instead of one comes first: it may be no number of ohms either.
func (r *route) wrong(s decode.Sample, why string) string {
	if reason := r.nothing(s.Sent); reason != "" {
		return reason
	}
	if why != "" {
		return why
	}
	reason, _ := signal.Check(s.Value, string(r.probe.Placement))
	return reason
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

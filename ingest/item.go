package ingest

import (
	"bytes"
	"errors"
	"time"

	"flitch/ingest/decode"
)

// An item is a decoded message on its way to the store. Nothing in it depends on
// what is stored already, so it is made on the goroutine of the source.
type item struct {
	topic    string
	received time.Time
	retained bool
	raw      []byte // start of the payload, at most decode.MaxRaw bytes
	size     int
	ack      func()

	routes  []route         // nil: nobody reads this topic
	samples []decode.Sample // one for each route, unless its err is set
	errs    []error         // nil, or one for each route
	vitals  []Vital         // what was told of batteries and signals
}

// decoded reads all values of m.
func decoded(m Message, routes []route) *item {
	it := &item{topic: m.Topic, received: m.Received, retained: m.Retained, ack: m.Ack, size: len(m.Payload), routes: routes}
	it.raw = m.Payload
	if len(it.raw) > decode.MaxRaw { // do not hold a large payload while it waits
		it.raw = bytes.Clone(it.raw[:decode.MaxRaw])
	}
	if len(routes) == 0 {
		return it
	}
	it.samples = make([]decode.Sample, len(routes))
	doc, err := decode.Open(m.Payload)
	for i := range routes {
		var failed error
		if err != nil {
			failed = err
		} else {
			it.samples[i], failed = doc.Read(routes[i].field)
			it.tell(doc, routes[i])
		}
		if failed != nil {
			it.fail(i, failed)
		}
	}
	return it
}

// fail marks the i-th value as unusable.
func (it *item) fail(i int, err error) {
	if it.errs == nil {
		it.errs = make([]error, len(it.routes))
	}
	it.errs[i] = err
}

// failed returns why the i-th value is unusable, or nil.
func (it *item) failed(i int) error {
	if it.errs == nil {
		return nil
	}
	return it.errs[i]
}

// rejection sums up the unusable values of the message; nil if there are none.
func (it *item) rejection() *decode.Rejection {
	if it.errs == nil {
		return nil
	}
	reason := errors.Join(it.errs...).Error() // one line each
	if len(it.errs) > 1 && it.errs[0] != nil && allSame(it.errs) {
		reason = it.errs[0].Error()
	}
	return &decode.Rejection{Topic: it.topic, Received: it.received, Raw: it.raw, Size: it.size, Reason: reason}
}

// allSame reports whether the whole payload was refused for one reason.
func allSame(errs []error) bool {
	for _, err := range errs {
		if err == nil || err.Error() != errs[0].Error() {
			return false
		}
	}
	return true
}

package ingest

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
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
	large    bool // holds a place in Intake.large
	ack      func()

	mapped  bool    // somebody reads this topic, and this sensor
	values  []value // what was read, in the order of the payload; one probe may have several
	refused []error // values that cannot be used, and why
	vitals  []Vital // what was told of batteries and signals
	said    []Said  // what devices told of themselves
	calls   []Call  // what to ask devices for
}

// A value is one sample and the route it came by.
type value struct {
	route  *route
	sample decode.Sample
	why    string // what a bare sensor sent is no temperature
}

func newItem(m Message) *item {
	it := &item{topic: m.Topic, received: m.Received, retained: m.Retained, ack: m.Ack, size: len(m.Payload), raw: m.Payload}
	if len(it.raw) > decode.MaxRaw { // do not hold a large payload while it waits
		it.raw = bytes.Clone(it.raw[:decode.MaxRaw])
	}
	return it
}

// decoded reads all values of m.
func decoded(m Message, routes []route) *item {
	it := newItem(m)
	if len(routes) == 0 {
		return it
	}
	doc, err := decode.Open(m.Payload)
	if err != nil {
		it.mapped = true
		it.refuse(err)
		return it
	}
	it.values = make([]value, 0, len(routes))
	for i := range routes {
		it.read(doc, &routes[i])
	}
	return it
}

// read takes what r reads out of the payload, unless another sensor sent it.
func (it *item) read(doc *decode.Document, r *route) {
	meant, err := doc.Meant(&r.field)
	if err == nil && !meant {
		return
	}
	it.mapped = true
	switch {
	case err != nil:
		it.refuse(err)
		return
	case r.field.IsList():
		samples, refused := doc.ReadList(&r.field)
		for _, s := range samples {
			it.take(doc, r, s)
		}
		it.refused = append(it.refused, refused...)
	default:
		if s, err := doc.Read(&r.field); err == nil {
			it.take(doc, r, s)
		} else {
			it.refuse(err)
		}
	}
	it.tell(doc, r)
}

// take adds a sample of the probe of r, in °C when a bare sensor sent something else.
// doc is the payload it came in; nil where that is not one of ours.
func (it *item) take(doc *decode.Document, r *route, s decode.Sample) {
	why := ""
	if r.sensor != nil {
		s.Value, why = r.sensor.tempC(s.Value, doc)
	}
	it.values = append(it.values, value{r, s, why})
}

// refuse notes a value that cannot be used.
func (it *item) refuse(err error) { it.refused = append(it.refused, err) }

// reasonsMax bounds how many different reasons of one message are kept.
const reasonsMax = 8

// rejection sums up the unusable values of the message, each reason once; nil if
// there are none.
func (it *item) rejection() *decode.Rejection {
	if len(it.refused) == 0 {
		return nil
	}
	var reasons []string
	left := 0
	for _, err := range it.refused {
		switch text := err.Error(); {
		case slices.Contains(reasons, text):
		case len(reasons) == reasonsMax:
			left++
		default:
			reasons = append(reasons, text)
		}
	}
	if left > 0 {
		reasons = append(reasons, fmt.Sprintf("and %d more", left))
	}
	return &decode.Rejection{Topic: it.topic, Received: it.received, Raw: it.raw, Size: it.size, Reason: strings.Join(reasons, "\n")}
}

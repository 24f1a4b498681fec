package ingest

import (
	"fmt"
	"strings"

	"flitch/process"
)

// A Tried is what would become of one message.
type Tried struct {
	Read     bool              // some probe reads the topic
	Meant    bool              // and the message is of its sensor
	Readings []process.Reading // that would be stored
	Refused  []string          // why values cannot be used
	Told     []string          // what the message tells of probes besides
}

// Try says what would become of a message that arrived at m.Received, as the first one
// of its probes: nothing is stored. The error lists every mapping that cannot be read.
func Try(mappings []Mapping, m Message) (Tried, error) {
	d, err := newDirectory(mappings)
	if err != nil {
		return Tried{}, err
	}
	routes := d.of(m.Topic)
	it, b := decoded(m, routes), &batch{}
	d.protocols.take(m, it)
	if err := b.add(it, func(probe string, ms int64) (bool, error) { return b.holds(probe, ms), nil }); err != nil {
		return Tried{}, err
	}
	t := Tried{Read: d.reads(m.Topic), Meant: it.mapped, Readings: b.readings}
	if r := it.rejection(); r != nil {
		t.Refused = strings.Split(r.Reason, "\n")
	}
	for _, s := range it.said {
		t.Told = append(t.Told, s.String())
	}
	for _, v := range it.vitals {
		t.Told = append(t.Told, fmt.Sprintf("%s: %s %g", v.Probe, v.Kind, v.Value))
	}
	return t, nil
}

package sparkplug

import (
	"cmp"
	"slices"

	"flitch/ingest/decode"
)

// A Wanted is a metric that somebody reads. Names are matched to the letter.
type Wanted struct {
	Source Source
	Metric string
	// Loose: Metric is only the last part of the name, in capitals or not, as Battery
	// stands for Properties/battery. A name that is wanted to the letter goes first.
	Loose bool
}

// A Change says that a source went or is back.
type Change struct {
	Source Source
	Gone   bool
	Words  string // what was heard
}

// Heard is what one message told.
type Heard struct {
	Values  []Value
	Changes []Change
	// Rebirth asks for a birth of the node, because without one the rest cannot be
	// read; Why says what is missing. Nil: nothing is.
	Rebirth *Source
	Why     string
	Err     error // the message as a whole told nothing
}

// A Host follows nodes and their devices. It is not safe for concurrent use.
type Host struct {
	nodes map[Source]*node
}

// NewHost follows the sources of the wanted metrics.
func NewHost(wanted []Wanted) *Host {
	h := &Host{nodes: map[Source]*node{}}
	for _, w := range wanted {
		n := h.nodes[w.Source.node()]
		if n == nil {
			n = newNode(w.Source.node())
			h.nodes[n.self] = n
		}
		n.want(w)
	}
	return h
}

// Nodes are the nodes that are followed, in order.
func (h *Host) Nodes() []Source {
	var out []Source
	for s := range h.nodes {
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b Source) int {
		return cmp.Or(cmp.Compare(a.Group, b.Group), cmp.Compare(a.Node, b.Node))
	})
	return out
}

// Filters are the MQTT subscriptions that are needed.
func (h *Host) Filters() []string {
	var out []string
	for _, n := range h.Nodes() {
		out = append(out, filters(n)...)
	}
	return out
}

// Reads reports whether a message on the topic tells the host something.
func (h *Host) Reads(topic string) bool {
	from, _, ok := parseTopic(topic)
	return ok && h.nodes[from.node()] != nil
}

// Take follows one message. A copy that the broker had kept is refused: births and
// data are never to be retained (6.4.19 and following), and its aliases may be those
// of a birth long gone.
func (h *Host) Take(topic string, body []byte, retained bool) Heard {
	from, kind, ok := parseTopic(topic)
	n := h.nodes[from.node()]
	if !ok || n == nil {
		return Heard{}
	}
	if retained {
		return Heard{Err: problem(decode.Retained, "retained copy of unknown age of a "+kind+", which must not be retained")}
	}
	p, err := parsePayload(body)
	if err != nil {
		return Heard{Err: err}
	}
	switch kind {
	case nBirth:
		return n.nodeBirth(p)
	case nDeath:
		return n.nodeDeath(p)
	case dBirth:
		return n.deviceBirth(from, p)
	case dDeath:
		return n.deviceDeath(from, p)
	}
	return n.data(from, p)
}

package sparkplug

import (
	"fmt"
	"strings"
)

// namespace is the first level of every topic of Sparkplug B (4.1.1).
const namespace = "spBv1.0"

// A Source is a node, or with Device a device of it.
type Source struct {
	Group, Node string
	Device      string // empty: the node itself
}

// String is the source as a person reads it.
func (s Source) String() string {
	if s.Device == "" {
		return "node " + s.Group + "/" + s.Node
	}
	return "device " + s.Group + "/" + s.Node + "/" + s.Device
}

// node is the node the source belongs to.
func (s Source) node() Source { return Source{Group: s.Group, Node: s.Node} }

// ParseSource reads group/node or group/node/device. The error says what to write.
func ParseSource(text string) (Source, error) {
	parts := strings.Split(text, "/")
	for _, p := range parts {
		if p == "" || strings.ContainsAny(p, "+#") {
			return Source{}, fmt.Errorf("%q is not a Sparkplug address: write group/node, or group/node/device", text)
		}
	}
	switch len(parts) {
	case 2:
		return Source{Group: parts[0], Node: parts[1]}, nil
	case 3:
		return Source{Group: parts[0], Node: parts[1], Device: parts[2]}, nil
	}
	return Source{}, fmt.Errorf("%q has %d parts: write group/node, or group/node/device", text, len(parts))
}

// The message types that are read (4.1.3).
const (
	nBirth = "NBIRTH"
	nData  = "NDATA"
	nDeath = "NDEATH"
	dBirth = "DBIRTH"
	dData  = "DDATA"
	dDeath = "DDEATH"
	nCmd   = "NCMD"
)

// parseTopic takes a topic apart; ok is false for one that is not read.
func parseTopic(topic string) (from Source, kind string, ok bool) {
	parts := strings.Split(topic, "/")
	if len(parts) < 4 || parts[0] != namespace {
		return Source{}, "", false
	}
	from, kind = Source{Group: parts[1], Node: parts[3]}, parts[2]
	switch kind {
	case nBirth, nData, nDeath:
		return from, kind, len(parts) == 4
	case dBirth, dData, dDeath:
		if len(parts) != 5 || parts[4] == "" {
			return Source{}, "", false
		}
		from.Device = parts[4]
		return from, kind, true
	}
	return Source{}, "", false
}

// filters are the subscriptions that follow a node with all its devices: they share
// one sequence, and a device left out would look like loss.
func filters(node Source) []string {
	var out []string
	for _, kind := range []string{nBirth, nData, nDeath} {
		out = append(out, strings.Join([]string{namespace, node.Group, kind, node.Node}, "/"))
	}
	for _, kind := range []string{dBirth, dData, dDeath} {
		out = append(out, strings.Join([]string{namespace, node.Group, kind, node.Node, "+"}, "/"))
	}
	return out
}

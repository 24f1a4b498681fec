package homie

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"flitch/ingest/decode"
)

// reads reports whether what follows the base topic is read.
func (d *device) reads(rest string) bool {
	switch attribute, id, _ := strings.Cut(rest, "/"); attribute {
	case "$state":
		return id == ""
	case "$description":
		return id == "" && d.five
	case "$alert":
		return id != "" && d.five
	case "$stats":
		return id == Battery || id == Signal || id == Uptime
	case "$nodes":
		return id == "" && !d.five
	}
	if p, attribute := d.property(rest); p != nil {
		return attribute == "" || !d.five
	}
	node, ok := strings.CutSuffix(rest, "/$properties")
	return ok && !d.five && len(d.of(node)) > 0
}

// of lists the wanted properties of a node, as node/property. An array of nodes, name
// with elements name_0 and so on, announces them together (version 3).
func (d *device) of(node string) (keys []string) {
	for _, key := range slices.Sorted(maps.Keys(d.properties)) {
		if own, _, _ := strings.Cut(key, "/"); own == node || strings.HasPrefix(own, node+"_") {
			keys = append(keys, key)
		}
	}
	return keys
}

// takeNodes looks for the wanted nodes in the list of versions 3 and 4. One that is
// not there will never tell anything, and its name may be a slip of the pen.
func (d *device) takeNodes(payload []byte) (h Heard) {
	nodes, err := list("$nodes", payload)
	if err != nil {
		return Heard{Err: err}
	}
	var found []string
	for i := range nodes {
		nodes[i] = strings.TrimSuffix(nodes[i], "[]")
		found = append(found, d.of(nodes[i])...)
	}
	for _, key := range slices.Sorted(maps.Keys(d.properties)) {
		if node, _, _ := strings.Cut(key, "/"); !slices.Contains(found, key) {
			h.Err = absent(d.base, "node", node, nodes)
		}
	}
	return h
}

// takeProperties does the same with the properties of a node.
func (d *device) takeProperties(node string, payload []byte) (h Heard) {
	names, err := list("$properties", payload)
	if err != nil {
		return Heard{Err: err}
	}
	for _, key := range d.of(node) {
		if _, name, _ := strings.Cut(key, "/"); !slices.Contains(names, name) {
			h.Err = absent(d.base+"/"+node, "property", name, names)
		}
	}
	return h
}

// namesShown is how many names stand in a message about one that is missing.
const namesShown = 12

func absent(of, what, name string, has []string) error {
	slices.Sort(has)
	shown := strings.Join(has[:min(len(has), namesShown)], ", ")
	if shown == "" {
		shown = "none"
	}
	return problem(decode.NoValue, fmt.Sprintf("%s announces no %s %s: it has %s", of, what, name, shown))
}

// list splits what is separated by commas.
func list(what string, payload []byte) (out []string, err error) {
	if len(payload) > decode.MaxPayload {
		return nil, problem(decode.TooLarge, fmt.Sprintf("%s of %d bytes: at most %d are read", what, len(payload), decode.MaxPayload))
	}
	for id := range strings.SplitSeq(string(payload), ",") {
		if id = strings.TrimSpace(id); validID(strings.TrimSuffix(id, "[]")) {
			out = append(out, id)
		}
	}
	return out, nil
}

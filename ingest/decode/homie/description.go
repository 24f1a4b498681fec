package homie

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"flitch/ingest/decode"
)

// A description is what is read of the $description of version 5.
type description struct {
	Root  string                   `json:"root"`
	Nodes map[string]describedNode `json:"nodes"`
}

type describedNode struct {
	Properties map[string]describedProperty `json:"properties"`
}

type describedProperty struct {
	Unit     string `json:"unit"`
	Datatype string `json:"datatype"`
	Format   string `json:"format"`
}

// takeDescription takes over what it says of the wanted properties, and who the root
// is. One that cannot be read changes nothing.
func (d *device) takeDescription(payload []byte) (h Heard) {
	if len(payload) == 0 {
		return h // taken away, as all of a removed device; its state tells
	}
	var said description
	if err := readDescription(payload, &said); err != nil {
		h.Err = err
		return h
	}
	d.rootID = ""
	if validID(said.Root) {
		d.rootID = said.Root
	}
	for _, key := range slices.Sorted(maps.Keys(d.properties)) {
		p := d.properties[key]
		node, known := said.Nodes[p.address.Node]
		if !known {
			h.Err = absent(d.base, "node", p.address.Node, slices.Collect(maps.Keys(said.Nodes)))
		}
		facts, described := node.Properties[p.address.Name]
		if known && !described {
			h.Err = absent(d.base+"/"+p.address.Node, "property", p.address.Name, slices.Collect(maps.Keys(node.Properties)))
		}
		p.unit, p.datatype, p.format = short(facts.Unit), short(facts.Datatype), short(facts.Format)
	}
	return h
}

func readDescription(payload []byte, into *description) error {
	doc, err := decode.Open(payload) // its bounds are ours
	if err != nil {
		return err
	}
	if err := doc.CheckJSON(); err != nil {
		return err
	}
	if err := json.Unmarshal(payload, into); err != nil {
		return problem(decode.NotJSON, fmt.Sprintf("$description is not what version 5 describes: %v", err))
	}
	return nil
}

// short drops what is too long to say something of a number.
func short(s string) string {
	if len(s) > maxAttribute {
		return ""
	}
	return strings.TrimSpace(s)
}

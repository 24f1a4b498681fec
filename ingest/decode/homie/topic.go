package homie

import (
	"fmt"
	"slices"
	"strings"
)

// A Property is the address of one value.
type Property struct {
	Domain string // first level of the topic, "homie" unless it was changed
	Five   bool   // version 5: domain/5/device/node/property; else domain/device/node/property
	Device string
	Node   string
	Name   string
}

// ParseProperty reads the topic of a property. The error says what to write.
func ParseProperty(topic string) (Property, error) {
	const write = "write homie/5/device/node/property, or homie/device/node/property of versions 3 and 4"
	parts := strings.Split(topic, "/")
	p := Property{Domain: parts[0], Five: len(parts) > 1 && parts[1] == "5"}
	rest := parts[1:]
	if p.Five {
		rest = parts[2:]
	}
	if len(rest) != 3 || p.Domain == "" || strings.ContainsAny(p.Domain, "+#$") {
		return Property{}, fmt.Errorf("%q is not the topic of a Homie property: %s", topic, write)
	}
	for _, id := range rest {
		if !validID(id) {
			return Property{}, fmt.Errorf("%q in %q cannot be in Homie: small letters, digits and hyphens; %s", id, topic, write)
		}
	}
	p.Device, p.Node, p.Name = rest[0], rest[1], rest[2]
	return p, nil
}

// validID reports whether a level may be an ID: small letters, digits, hyphens; an
// underscore in version 3 names an element of an array of nodes.
func validID(id string) bool {
	return id != "" && strings.Trim(id, "abcdefghijklmnopqrstuvwxyz0123456789-_") == ""
}

// root is what all topics of devices of the version begin with.
func (p Property) root() string {
	if p.Five {
		return p.Domain + "/5/"
	}
	return p.Domain + "/"
}

// device is the base topic of the device.
func (p Property) device() string { return p.root() + p.Device }

// Topic is where the value comes.
func (p Property) Topic() string { return p.device() + "/" + p.Node + "/" + p.Name }

// String is the property as a person reads it.
func (p Property) String() string { return p.Topic() }

// filters are the subscriptions that a property needs.
func (p Property) filters() []string {
	d := p.device()
	out := []string{p.Topic(), d + "/$stats/battery", d + "/$stats/signal", d + "/$stats/uptime"}
	if p.Five {
		// The root of a device is known only from its description, and its state counts.
		return append(out, p.root()+"+/$state", d+"/$description", d+"/$alert/+")
	}
	return append(out, d+"/$state", d+"/$nodes", d+"/"+p.Node+"/$properties",
		p.Topic()+"/$unit", p.Topic()+"/$datatype", p.Topic()+"/$format")
}

// Filters are the MQTT subscriptions that are needed, each once.
func (c *Controller) Filters() []string {
	var out []string
	for _, p := range c.wanted {
		out = append(out, p.filters()...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

package homie

import (
	"strings"

	"flitch/ingest/decode"
)

// maxRoots bounds how many devices that nobody wants are remembered by their state;
// own bound.
const maxRoots = 256

// A Value is one value of a wanted property.
type Value struct {
	Property Property
	Number   float64 // as sent; a boolean is 1 or 0
	Unit     string  // as the device names it; empty: it names none
	IsBool   bool
	Text     string // as sent, when it is short
	Retained bool   // a copy of unknown age
	Doubt    string // why a number is not to be taken without a mark; empty: no reason
	Err      error  // why there is no number, a *decode.Problem
}

// A Change says that a device went or is back.
type Change struct {
	Device string // its base topic
	Gone   bool
	Words  string
}

// An Alert is what a device wants a person to know. Without Text it is over.
type Alert struct {
	Device string // its base topic
	ID     string // of version 5; "state" for $state alert of versions 3 and 4
	Text   string
}

// The statistics that are read, by their names in the convention.
const (
	Battery = "battery" // %
	Signal  = "signal"  // %
	Uptime  = "uptime"  // s since the device started
)

// A Stat is one statistic of a device.
type Stat struct {
	Device string // its base topic
	Name   string // Battery, Signal or Uptime
	Number float64
}

// Heard is what one message told.
type Heard struct {
	Values  []Value
	Changes []Change
	Alerts  []Alert
	Stats   []Stat
	Err     error // the message told nothing, a *decode.Problem
}

// A Controller follows the devices of wanted properties. It is not safe for concurrent
// use.
type Controller struct {
	wanted  []Property
	devices map[string]*device // by base topic
	roots   map[string]state   // of version 5: states of other devices, by base topic
}

// New follows the devices of the wanted properties.
func New(wanted []Property) *Controller {
	c := &Controller{wanted: wanted, devices: map[string]*device{}, roots: map[string]state{}}
	for _, p := range wanted {
		d := c.devices[p.device()]
		if d == nil {
			d = newDevice(p)
			c.devices[p.device()] = d
		}
		d.want(p)
	}
	return c
}

// Reads reports whether a message on the topic may tell the controller something.
func (c *Controller) Reads(topic string) bool {
	d, rest := c.split(topic)
	if d != nil {
		return d.reads(rest)
	}
	_, ok := c.rootOf(topic)
	return ok
}

// split finds the wanted device a topic is of, and what follows its base topic.
func (c *Controller) split(topic string) (*device, string) {
	levels := 0
	for i := range len(topic) {
		if topic[i] != '/' {
			continue
		}
		if levels++; levels < 2 {
			continue
		}
		if d := c.devices[topic[:i]]; d != nil {
			return d, topic[i+1:]
		}
		if levels == 3 {
			break
		}
	}
	return nil, ""
}

// rootOf is the base topic of a device of version 5 whose $state this is, in a domain
// that is followed.
func (c *Controller) rootOf(topic string) (base string, ok bool) {
	base, ok = strings.CutSuffix(topic, "/$state")
	parts := strings.Split(base, "/")
	if !ok || len(parts) != 3 || parts[1] != "5" || !validID(parts[2]) {
		return "", false
	}
	for _, p := range c.wanted {
		if p.Five && p.Domain == parts[0] {
			return base, true
		}
	}
	return "", false
}

// Take follows one message. retained says that it is a copy the broker had kept.
func (c *Controller) Take(topic string, payload []byte, retained bool) Heard {
	d, rest := c.split(topic)
	switch {
	case d == nil:
		return c.takeRoot(topic, payload)
	case !d.reads(rest):
		return Heard{}
	}
	switch attribute, id, _ := strings.Cut(rest, "/"); attribute {
	case "$state":
		h := d.takeState(payload)
		c.inherit(topic, &h) // it may be the root of another
		return h
	case "$description":
		h := d.takeDescription(payload)
		d.rootLost(c.stateOf(d.rootTopic()), &h)
		return h
	case "$alert":
		return d.takeAlert(id, payload)
	case "$stats":
		return d.takeStat(id, payload, retained)
	case "$nodes":
		return d.takeNodes(payload)
	}
	if node, ok := strings.CutSuffix(rest, "/$properties"); ok {
		return d.takeProperties(node, payload)
	}
	return d.takeProperty(rest, payload, retained)
}

// takeRoot notes the state of a device that nobody wants but may be the root of one.
func (c *Controller) takeRoot(topic string, payload []byte) (h Heard) {
	base, ok := c.rootOf(topic)
	if !ok {
		return h
	}
	s, err := parseState(payload)
	if err != nil {
		return h // nobody asked
	}
	if _, known := c.roots[base]; !known && len(c.roots) >= maxRoots && !c.isRoot(base) {
		return h
	}
	if s == lost {
		c.roots[base] = s
	} else {
		delete(c.roots, base) // only lost is inherited
	}
	c.inherit(topic, &h)
	return h
}

// isRoot reports whether a wanted device named the device as its root.
func (c *Controller) isRoot(base string) bool {
	for _, d := range c.devices {
		if d.rootTopic() == base {
			return true
		}
	}
	return false
}

// stateOf is the state of any device, as far as it is kept.
func (c *Controller) stateOf(base string) state {
	if d := c.devices[base]; d != nil {
		return d.state
	}
	return c.roots[base]
}

// inherit tells the children of a root what its state makes of theirs.
func (c *Controller) inherit(topic string, h *Heard) {
	base := strings.TrimSuffix(topic, "/$state")
	for _, p := range c.wanted { // in the order given
		if d := c.devices[p.device()]; d.rootTopic() == base {
			d.rootLost(c.stateOf(base), h)
		}
	}
}

func problem(class decode.Class, text string) error {
	return &decode.Problem{Class: class, Text: text}
}

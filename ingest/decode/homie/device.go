package homie

import (
	"strconv"
	"strings"

	"flitch/ingest/decode"
)

// A state is the value of $state; empty: not heard.
type state string

// The states of the convention. Alert is one of versions 3 and 4; in version 5 a topic
// of its own took its place.
const (
	initial      state = "init"
	ready        state = "ready"
	disconnected state = "disconnected"
	sleeping     state = "sleeping"
	lost         state = "lost"
	alert        state = "alert"
	removed      state = "removed" // our word for an empty $state
)

func parseState(payload []byte) (state, error) {
	switch s := state(payload); s {
	case initial, ready, disconnected, sleeping, lost, alert:
		return s, nil
	case "":
		return removed, nil
	}
	return "", problem(decode.Unknown, "$state is "+quoted(string(payload))+": the convention knows init, ready, disconnected, sleeping, lost and alert")
}

// gone reports whether a device in the state sends nothing any more. A sleeping one
// does: it wakes up for it.
func (s state) gone() bool { return s == lost || s == disconnected || s == removed }

// words say what a state that is gone means.
func (s state) words() string {
	return map[state]string{
		lost:         "its connection broke (Homie $state lost)",
		disconnected: "it said goodbye (Homie $state disconnected)",
		removed:      "it was removed (Homie $state empty)",
	}[s]
}

// A device is one device with its wanted properties.
type device struct {
	base       string // topic
	root       string // what the topics of its domain begin with
	five       bool
	state      state
	rootID     string // of version 5: the device its connection is of; empty: its own
	orphan     bool   // its root is lost
	told       bool   // whether it is gone was told before: gone
	gone       bool
	properties map[string]*property
}

func newDevice(p Property) *device {
	return &device{base: p.device(), root: p.root(), five: p.Five, properties: map[string]*property{}}
}

func (d *device) want(p Property) {
	key := p.Node + "/" + p.Name
	if d.properties[key] == nil {
		d.properties[key] = &property{address: p}
	}
}

// rootTopic is the base topic of its root; empty when it has none.
func (d *device) rootTopic() string {
	if d.rootID == "" {
		return ""
	}
	return d.root + d.rootID
}

// property finds the wanted property of a topic, and which of its attributes it is.
func (d *device) property(rest string) (p *property, attribute string) {
	if p := d.properties[rest]; p != nil {
		return p, ""
	}
	key, attribute, ok := cutLast(rest)
	if !ok || attribute != "$unit" && attribute != "$datatype" && attribute != "$format" {
		return nil, ""
	}
	return d.properties[key], attribute
}

func cutLast(s string) (before, after string, ok bool) {
	i := strings.LastIndexByte(s, '/')
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+1:], true
}

func (d *device) takeState(payload []byte) (h Heard) {
	s, err := parseState(payload)
	if err != nil {
		h.Err = err
		return h
	}
	was := d.state
	d.state = s
	switch {
	case s == alert:
		h.Alerts = append(h.Alerts, Alert{d.base, "state", "something is wrong with it (Homie $state alert)"})
	case was == alert || was == "":
		h.Alerts = append(h.Alerts, Alert{Device: d.base, ID: "state"})
	}
	d.tell(&h)
	return h
}

// rootLost takes the state of the root: with a lost one the device is lost too.
func (d *device) rootLost(root state, h *Heard) {
	d.orphan = root == lost
	d.tell(h)
}

// tell adds a Change when the device went or is back. The first state that is heard is
// always told: whoever listens may remember another.
func (d *device) tell(h *Heard) {
	gone := d.orphan || d.state.gone()
	if d.told && gone == d.gone || !gone && d.state == "" {
		return
	}
	d.told, d.gone = true, gone
	c := Change{Device: d.base, Gone: gone, Words: "Homie $state " + string(d.state)}
	switch {
	case d.orphan:
		c.Words = "the connection of its root device " + d.rootID + " broke (Homie $state lost)"
	case gone:
		c.Words = d.state.words()
	}
	h.Changes = append(h.Changes, c)
}

func (d *device) takeAlert(id string, payload []byte) (h Heard) {
	text := strings.ToValidUTF8(string(payload[:min(len(payload), maxAlert)]), "")
	h.Alerts = append(h.Alerts, Alert{d.base, id, text})
	return h
}

// maxAlert bounds the text of an alert, in bytes; own bound.
const maxAlert = 300

// takeStat takes a statistic. A copy of unknown age tells nothing of today, and what
// is no number is passed over: nothing is promised of it.
func (d *device) takeStat(name string, payload []byte, retained bool) (h Heard) {
	v, err := strconv.ParseFloat(string(payload), 64)
	if retained || err != nil || !decimal(payload) {
		return h
	}
	h.Stats = append(h.Stats, Stat{d.base, name, v})
	return h
}

func decimal(b []byte) bool {
	return len(b) < 40 && strings.Trim(string(b), "0123456789+-.eE") == ""
}

// quoteMax keeps somebody else's text readable on one line.
const quoteMax = 60

func quoted(s string) string {
	if len(s) > quoteMax {
		return strconv.Quote(s[:quoteMax]) + "..."
	}
	return strconv.Quote(s)
}

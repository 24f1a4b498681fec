package config

import (
	"fmt"
	"strings"
)

// sources are where the probes so far get their numbers from.
type sources []source

type source struct {
	Payload
	line int
}

// take reports a number that feeds two probes: one reading would be counted twice,
// and the second probe would never be missed. It also reports two topics of which
// neither covers the other and that still share messages: a broker may send those
// once for each (MQTT 3.1.1, 3.3.5).
func (s *sources) take(t *table, p Payload) {
	for _, other := range *s {
		a, b := p.ReadFrom(), other.ReadFrom()
		switch {
		case !share(a, b):
		case p.sameNumber(other.Payload):
			t.problem("topic", p.Topic, fmt.Sprintf("the same number already feeds the probe on line %d", other.line),
				`another topic, or another value, such as value = "/temperature2"`)
			return
		case !covers(a, b) && !covers(b, a):
			t.problem("topic", p.Topic, fmt.Sprintf("shares some messages with the topic on line %d, and a broker may send those twice", other.line),
				fmt.Sprintf("topic = %q, as on line %d, or one without +", other.Topic, other.line))
			return
		}
	}
	*s = append(*s, source{p, t.line("topic")})
}

// ReadFrom is the topic as it is subscribed to: with the id, where that stands in it.
func (p Payload) ReadFrom() string {
	if p.IDAt == InTopic {
		return strings.Replace(p.Topic, "+", p.ID, 1)
	}
	return p.Topic
}

// sameNumber reports whether one message may feed both, as far as that can be told.
func (p Payload) sameNumber(other Payload) bool {
	if p.Value != other.Value || p.List != other.List || p.Each != other.Each {
		return false
	}
	id, otherID := p.inPayload(), other.inPayload()
	return id == "" || otherID == "" || id == otherID
}

// inPayload is the id that a message has to have, with its path; empty when any will do.
func (p Payload) inPayload() string {
	if p.ID == "" || p.IDAt == InTopic {
		return ""
	}
	return p.IDAt + "\x00" + p.ID
}

// share reports whether there is a topic that both filters fit.
func share(a, b string) bool {
	return alike(a, b, func(a, b string) bool { return a == b || a == "+" || b == "+" })
}

// covers reports whether a fits all that b fits.
func covers(a, b string) bool {
	return alike(a, b, func(a, b string) bool { return a == b || a == "+" })
}

func alike(a, b string, part func(a, b string) bool) bool {
	as, bs := strings.Split(a, "/"), strings.Split(b, "/")
	if len(as) != len(bs) {
		return false
	}
	for i := range as {
		if !part(as[i], bs[i]) {
			return false
		}
	}
	return true
}

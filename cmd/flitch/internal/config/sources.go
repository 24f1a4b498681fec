package config

import (
	"fmt"
	"strconv"
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
			hint := `another topic, or another value, such as value = "/temperature2"`
			if p.Protocol != "" {
				hint = "another topic, or with Sparkplug another metric"
			}
			t.problem("topic", p.Topic, p.already(other), hint)
			return
		case !covers(a, b) && !covers(b, a):
			t.problem("topic", p.Topic, fmt.Sprintf("shares some messages with the topic on line %d, and a broker may send those twice", other.line),
				fmt.Sprintf("topic = %q, as on line %d, or one without +", other.Topic, other.line))
			return
		}
	}
	*s = append(*s, source{p, t.line("topic")})
}

// already says that the number is used.
func (p Payload) already(other source) string {
	if p.Value == other.Value && p.Each == other.Each {
		return fmt.Sprintf("the same number already feeds the probe on line %d", other.line)
	}
	return fmt.Sprintf("%s may be the same number as %s, which feeds the probe on line %d", strings.Join(p.steps(), "/"), strings.Join(other.steps(), "/"), other.line)
}

// ReadFrom is the topic as it is subscribed to: with the id, where that stands in it.
func (p Payload) ReadFrom() string {
	if p.Protocol == Sparkplug && p.Topic != "" {
		group, rest, _ := strings.Cut(p.Topic, "/")
		return standardRoot + group + "/+/" + rest
	}
	if p.IDAt == InTopic {
		return strings.Replace(p.Topic, "+", p.ID, 1)
	}
	return p.Topic
}

// sameNumber reports whether one message may feed both, as far as that can be told.
func (p Payload) sameNumber(other Payload) bool {
	a, b := p.steps(), other.steps()
	if p.Metric != other.Metric || len(a) != len(b) {
		return false
	}
	for i := range a {
		if !sameStep(a[i], b[i]) && !sameStep(b[i], a[i]) {
			return false
		}
	}
	id, otherID := p.inPayload(), other.inPayload()
	return id == "" || otherID == "" || id == otherID
}

// anyElement is the step of a path through each element of a list.
const anyElement = "*"

// steps are those of the whole path to the number.
func (p Payload) steps() []string {
	if !p.List {
		return strings.Split(p.Value, "/")
	}
	each := strings.Split(p.Each, "/")
	if !isChoice(each[len(each)-1]) {
		each = append(each, anyElement)
	}
	return append(each, strings.Split(p.Value, "/")[1:]...)
}

// sameStep reports whether a may lead where b leads: an element that is chosen by a
// member may be the one at an index.
func sameStep(a, b string) bool {
	_, err := strconv.Atoi(b)
	return a == b || a == anyElement && (err == nil || isChoice(b)) || isChoice(a) && err == nil
}

// isChoice reports a step [name=value].
func isChoice(step string) bool {
	return strings.HasPrefix(step, "[") && strings.HasSuffix(step, "]") && strings.Contains(step, "=")
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

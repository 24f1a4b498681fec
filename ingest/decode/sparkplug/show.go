package sparkplug

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"flitch/ingest/decode"
)

// shown is how many metrics stand in the words about one message.
const shown = 12

// Read lists the values of one message that a configuration could name, and the address
// of who sent them, as a configuration has it. What has only an alias, no number, or is
// of the protocol itself is left out.
func Read(topic string, body []byte) (address string, values []Value) {
	from, _, ok := parseTopic(topic)
	if !ok {
		return "", nil
	}
	p, err := parsePayload(body)
	if err != nil {
		return "", nil
	}
	for _, m := range p.metrics {
		v := m.valueOf(from, m.name, stamp{}, facts{})
		if m.name == "" || !utf8.ValidString(m.name) || m.name == bdSeqName || strings.HasPrefix(m.name, "Node Control/") || v.IsBool || v.Err != nil || len(values) == decode.MaxFound {
			continue
		}
		values = append(values, v)
	}
	return from.address(), values
}

// address is the source as a configuration has it.
func (s Source) address() string {
	return strings.TrimPrefix(strings.TrimPrefix(s.String(), "node "), "device ")
}

// Show says for a person what a message holds and how it is named in a configuration.
// ok is false for a topic that is none of Sparkplug's.
func Show(topic string, body []byte) (words string, ok bool) {
	from, _, ok := parseTopic(topic)
	if !ok {
		return "", false
	}
	p, err := parsePayload(body)
	if err != nil {
		return err.Error(), true
	}
	var names []string
	for _, m := range p.metrics {
		if len(names) == shown {
			names = append(names, fmt.Sprintf("and %d more", len(p.metrics)-shown))
			break
		}
		names = append(names, m.show())
	}
	return fmt.Sprintf("Sparkplug B: protocol = \"sparkplug\", topic = %q, metric = one of %s", from.address(), strings.Join(names, ", ")), true
}

func (m metric) show() string {
	name := quoted(m.name)
	if m.name == "" {
		name = fmt.Sprintf("alias %d", m.alias)
	}
	v := m.valueOf(Source{}, m.name, stamp{}, facts{})
	switch {
	case v.Text != "":
		return name + " (" + quoted(v.Text) + ")"
	case v.Err != nil:
		return name + " (no number)"
	}
	return strings.TrimSuffix(fmt.Sprintf("%s (%g %s", name, v.Number, strings.ToValidUTF8(v.Unit, "")), " ") + ")"
}

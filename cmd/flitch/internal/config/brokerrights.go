package config

import (
	"fmt"
	"strings"
)

// readFilters reads a list of MQTT topic filters. No list is nil, and an empty one is
// not: it allows nothing.
func readFilters(t *table, key string) []string {
	value, ok := t.get(key)
	if !ok {
		return nil
	}
	example := key + ` = ["larder/alder/#"]`
	items, ok := value.([]any)
	if !ok {
		t.wrongType(key, value, "a list of topics", fmt.Sprintf("[%q]", shown(value)))
		return nil
	}
	filters := []string{}
	for _, item := range items {
		filter, ok := item.(string)
		if !ok {
			t.problem(key, shown(item), "holds "+describe(item)+", not a topic", example)
			continue
		}
		if wrong := badFilter(filter); wrong != "" {
			t.problem(key, filter, fmt.Sprintf("%q %s", filter, wrong), example)
			continue
		}
		filters = append(filters, filter)
	}
	return filters
}

// badFilter says what is wrong with a topic filter (MQTT 3.1.1, 4.7), "" when nothing is.
func badFilter(filter string) string {
	levels := strings.Split(filter, "/")
	for i, level := range levels {
		switch {
		case level == "#" && i < len(levels)-1:
			return "has # before its end"
		case level != "#" && level != "+" && strings.ContainsAny(level, "#+"):
			return "has a wildcard that is not a whole level"
		}
	}
	switch {
	case filter == "":
		return "is empty"
	case len(filter) > maxTopic:
		return fmt.Sprintf("is longer than %d bytes", maxTopic)
	case strings.ContainsFunc(filter, func(r rune) bool { return r < ' ' }):
		return "has a control character in it"
	case strings.HasPrefix(filter, "$"):
		return "is the broker's own: no user may use it"
	}
	return ""
}

// checkRights doubts a probe whose readings no user may send: it would be silent.
func checkRights(broker Broker, probes []*table, read []Probe) {
	if broker.Mode != Embedded || len(broker.Users) == 0 {
		return
	}
	for i, probe := range read {
		if probe.Topic == "" || mayAnyone(broker.Users, probe.Topic) {
			continue
		}
		probes[i].doubt("topic", probe.Topic, fmt.Sprintf("%q is in may_publish of no broker.user, and everyone of them has such a list", probe.Topic),
			fmt.Sprintf("may_publish = [%q]   under the [[broker.user]] that sends it", probe.Topic))
	}
}

func mayAnyone(users []BrokerUser, topic string) bool {
	for _, user := range users {
		if user.MayPublish == nil {
			return true
		}
		for _, filter := range user.MayPublish {
			if matches(filter, topic) {
				return true
			}
		}
	}
	return false
}

// matches reports whether a topic is one of those a filter stands for.
func matches(filter, topic string) bool {
	f, t := strings.Split(filter, "/"), strings.Split(topic, "/")
	for i, level := range f {
		if level == "#" {
			return true
		}
		if i >= len(t) || level != "+" && level != t[i] {
			return false
		}
	}
	return len(f) == len(t)
}

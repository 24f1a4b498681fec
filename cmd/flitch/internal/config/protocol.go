package config

import (
	"fmt"
	"strings"
)

// The protocols that have words of their own for where a number is.
const (
	Homie     = "homie"     // topic is that of a property
	Sparkplug = "sparkplug" // topic is group/node or group/node/device, metric names the number
)

const (
	homieExample     = `topic = "homie/5/fridge/bottle/temperature"`
	sparkplugExample = `topic = "shop/kettle/probes"  # group/node/device, or group/node for the node's own`
)

// standardRoot is what topics of Sparkplug B begin with.
const standardRoot = "spBv1.0/"

// unknownProtocol stands for one that is not known, which is a problem already.
const unknownProtocol = "?"

// readSource reads where the number of a probe is. Of a protocol that is not known it is
// not known either which other keys belong to it.
func readSource(t *table) Payload {
	if _, said := t.get("protocol"); !said {
		return readPayload(t)
	}
	protocol := t.choice("protocol", "", Homie, Sparkplug)
	if protocol == "" {
		t.loose = true
		return Payload{Protocol: unknownProtocol}
	}
	return readStandard(t, protocol)
}

// readStandard reads where the number is in the words of a protocol, which leaves
// nothing else to say.
func readStandard(t *table, protocol string) Payload {
	p := Payload{Protocol: protocol, Scale: 1, Decimal: "."}
	if protocol == Homie {
		p.Topic = readHomieTopic(t)
		t.foreign(`is only for protocol = "sparkplug"`, "metric")
	} else {
		p.Topic = readSparkplugTopic(t)
		p.Metric = t.need("metric", "core")
	}
	p.Scale, p.Offset = readScale(t)
	t.foreign(fmt.Sprintf("is not needed: protocol = %q says where everything is", protocol),
		"value", "each", "time", "time_format", "time_zone", "backfill", "id", "id_at", "unit_at", "decimal")
	return p
}

func readHomieTopic(t *table) string {
	topic := t.need("topic", "homie/5/fridge/bottle/temperature")
	if topic == "" {
		return ""
	}
	parts := strings.Split(topic, "/")
	ids, what := parts[1:], "four parts, homie/device/node/property, or with version 5 five, homie/5/device/node/property"
	if len(ids) > 0 && ids[0] == "5" {
		ids = ids[1:]
	}
	if len(ids) != 3 || parts[0] == "" || strings.ContainsAny(parts[0], "+#$") {
		t.problem("topic", topic, fmt.Sprintf("%q is not the topic of a Homie property: it has %s", topic, what), homieExample)
		return ""
	}
	for _, id := range ids {
		if id == "" || strings.Trim(id, "abcdefghijklmnopqrstuvwxyz0123456789-_") != "" {
			t.problem("topic", topic, fmt.Sprintf("%q cannot be an ID of Homie: small letters, digits and hyphens", id), homieExample)
			return ""
		}
	}
	return topic
}

func readSparkplugTopic(t *table) string {
	topic := t.need("topic", "shop/kettle/probes")
	parts := strings.Split(topic, "/")
	switch {
	case topic == "":
		return ""
	case strings.HasPrefix(topic, standardRoot) && len(parts) >= 4:
		own := append([]string{parts[1]}, parts[3:]...)
		t.problem("topic", topic, "is a whole topic of Sparkplug, and only group, node and device are written", fmt.Sprintf("topic = %q", strings.Join(own, "/")))
		return ""
	case len(parts) != 2 && len(parts) != 3:
		t.problem("topic", topic, fmt.Sprintf("%q has %d parts, and a Sparkplug address has two or three", topic, len(parts)), sparkplugExample)
		return ""
	}
	for _, p := range parts {
		if p == "" || strings.ContainsAny(p, "+#") {
			t.problem("topic", topic, fmt.Sprintf("%q cannot be a group, node or device of Sparkplug", p), sparkplugExample)
			return ""
		}
	}
	return topic
}

// device is which device a probe of a protocol is of; empty without one.
func (p Payload) device() string {
	switch {
	case p.Topic == "":
		return ""
	case p.Protocol == Homie:
		return Homie + " " + p.Topic[:strings.LastIndexByte(p.Topic[:strings.LastIndexByte(p.Topic, '/')], '/')]
	case p.Protocol == Sparkplug:
		return Sparkplug + " " + p.Topic
	}
	return ""
}

// Reads reports whether a message on the topic may carry the number.
func (p Payload) Reads(topic string) bool { return p.Topic != "" && covers(p.ReadFrom(), topic) }

// standardVitals reads battery and signal of a device that tells of them by its
// protocol, in percent. The first probe of a device speaks for it.
func standardVitals(t *table, probe *Probe, first bool) {
	if probe.Protocol == unknownProtocol {
		return
	}
	probe.Battery = standardVital(t, "battery", probe.Protocol, first, batteryLows)
	probe.Signal = standardVital(t, "signal", probe.Protocol, first, signalLows)
}

func standardVital(t *table, key, protocol string, first bool, lows map[string]float64) Vital {
	if protocol == Homie {
		t.foreign("is not needed: Homie tells of it in $stats, in %", key, key+"_unit")
	} else if t.has(key) {
		return vitalAt(t, key, t.need(key, "Properties/Battery"), lows)
	} else {
		t.foreign(fmt.Sprintf("says how %s is told, but %s is not given", key, key), key+"_unit")
	}
	low := t.number(key+"_low", lows["%"], 0, 100)
	if !first && !t.has(key+"_low") {
		return Vital{}
	}
	v := Vital{Pointer: "$stats/" + key, Unit: "%", Low: low}
	if protocol == Sparkplug {
		v.Pointer, v.Loose = key, true
	}
	return v
}

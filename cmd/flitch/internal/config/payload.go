package config

import (
	"fmt"
	"strings"
	"time"
)

// maxTopic is the longest topic MQTT can carry, in bytes (MQTT 3.1.1, 1.5.3).
const maxTopic = 65535

// mostScale bounds scale and offset: proposal, as the numbers a payload may hold.
const mostScale = 1e6

// readPayload reads where the number of a probe is. The unit depends on what is
// measured and is read apart.
func readPayload(t *table) Payload {
	p := Payload{Topic: readTopic(t)}
	t.foreign(`is only for protocol = "sparkplug"`, "metric")
	p.ID, p.IDAt = readID(t, p.Topic)
	p.List, p.Each = t.has("each"), t.pointer("each")
	p.Value = t.pointer("value")
	readTime(t, &p)
	if p.Time != "" && p.Time == p.Value {
		t.problem("time", p.Time, "is the same number as value", `time = "/time"`)
	}
	p.Scale, p.Offset = readScale(t)
	p.Decimal = t.choice("decimal", ".", ".", ",")
	return p
}

func readScale(t *table) (scale, offset float64) {
	scale = t.number("scale", 1, -mostScale, mostScale)
	if scale == 0 {
		t.problem("scale", "0", "would make every number 0", "scale = 0.1")
	}
	return scale, t.number("offset", 0, -mostScale, mostScale)
}

func readTopic(t *table) string {
	const example = `topic = "larder/alder/bottle"`
	topic := t.need("topic", "larder/alder/bottle")
	switch {
	case topic == "":
	case strings.Contains(topic, "#"):
		t.problem("topic", topic, "has the wildcard #, and only + is read: it stands for one part", example+`, or with an id topic = "larder/+/bottle"`)
	case strings.HasPrefix(topic, standardRoot):
		t.problem("topic", topic, "is one of Sparkplug B, whose messages are no text", `protocol = "sparkplug"  and `+sparkplugExample)
	case !wholeParts(topic):
		t.problem("topic", topic, "has a + that is not a whole part between slashes", `topic = "larder/+/bottle"`)
	case len(topic) > maxTopic:
		t.problem("topic", "", fmt.Sprintf("is longer than %d bytes", maxTopic), example)
	default:
		return topic
	}
	return ""
}

func wholeParts(topic string) bool {
	for part := range strings.SplitSeq(topic, "/") {
		if len(part) > 1 && strings.Contains(part, "+") {
			return false
		}
	}
	return true
}

// readID reads which sensor is meant, of several on one topic.
func readID(t *table, topic string) (id, at string) {
	free := strings.Count(topic, "+")
	id, at = t.text("id"), t.text("id_at")
	if at != "" && at != InTopic {
		at = t.pointer("id_at")
	}
	switch {
	case free > 0 && !t.has("id"):
		t.missing("id", `id = "bottle-7"  # which sensor is meant: all fit a topic with +`)
	case t.has("id") && id == "" && t.values["id"] == "":
		t.problem("id", "", "is empty", `id = "bottle-7"`)
	case t.has("id_at") && !t.has("id"):
		t.problem("id_at", at, "says where the id is, but id is not given", `id = "bottle-7"`)
	case id == "":
	case !t.has("id_at") && free == 1:
		return topicID(t, id, free)
	case !t.has("id_at"):
		t.missing("id_at", `id_at = "/id"  # its path in the message; or a + in the topic, where the id stands`)
	case at == InTopic:
		return topicID(t, id, free)
	case at != "":
		return id, at
	}
	return "", ""
}

// topicID checks an id that stands in the topic.
func topicID(t *table, id string, free int) (string, string) {
	switch {
	case free != 1 && t.values["topic"] != nil:
		t.problem("id_at", InTopic, fmt.Sprintf("needs one + in the topic, where the id stands, and there are %d", free), `topic = "larder/+/bottle"`)
	case strings.ContainsAny(id, "/+#"):
		t.problem("id", id, "stands for one part of the topic: it has no / + #", `id = "bottle-7"`)
	}
	return id, InTopic
}

func readTime(t *table, p *Payload) {
	at := t.pointer("time")
	p.TimeFormat = t.choice("time_format", "rfc3339", "rfc3339", "unix", "unix-ms", "local")
	p.Zone = readTimeZone(t, p.TimeFormat)
	p.Backfill = t.pointer("backfill")
	if p.Backfill != "" && p.List {
		t.problem("backfill", p.Backfill, "is not needed: the readings of a list are always taken at their own times", "nothing, take the line out")
	}
	if p.Time = at; at != "" {
		return
	}
	p.TimeFormat = ""
	switch {
	case t.has("time"): // has its own problem
	case t.has("time_format"):
		t.problem("time_format", t.text("time_format"), "says how time is written, but time is not given", `time = "/time"`)
	case p.List:
		t.missing("time", `time = "/ts"  # in one reading of the list`)
	case p.Backfill != "":
		t.missing("time", `time = "/time"`)
	}
}

// readTimeZone reads the zone of a clock that shows local time. It is not guessed from
// the site's: a sensor may be set otherwise.
func readTimeZone(t *table, format string) *time.Location {
	const example = `time_zone = "Europe/Lisbon"`
	name := t.text("time_zone")
	switch {
	case format != "local":
		t.foreign(`is only for time_format = "local"`, "time_zone")
		return nil
	case name == "" && t.has("time_zone"):
		if t.values["time_zone"] == "" {
			t.problem("time_zone", "", "is empty", example)
		}
		return time.UTC
	case name == "":
		t.missing("time_zone", example+"  # what the clock of the sensor is set to")
		return time.UTC
	}
	return t.zone("time_zone", name)
}

// readUnit reads the unit of a temperature, or where the payload says it.
func readUnit(t *table) (unit, at string) {
	if !t.has("unit_at") {
		return t.choice("unit", "", "C", "F", "K"), ""
	}
	if t.has("unit") {
		t.problem("unit_at", "", "says that the payload tells the unit, and unit is given, too", "one of the two")
	}
	t.get("unit")
	if at = t.text("unit_at"); at != Behind {
		at = t.pointer("unit_at")
	}
	if at == "" && t.values["unit_at"] == "" {
		t.problem("unit_at", "", "is empty", `unit_at = "/unit", or "behind" when it stands behind the number`)
	}
	return "", at
}

// pointer is a JSON pointer (RFC 6901); empty is the whole payload.
func (t *table) pointer(key string) string {
	text := t.text(key)
	if text == "" {
		return ""
	}
	if text[0] != '/' {
		path := strings.ReplaceAll(strings.TrimPrefix(text, "$."), ".", "/")
		t.problem(key, text, fmt.Sprintf("%q is not a JSON pointer: it starts with /", text), fmt.Sprintf("%s = %q", key, "/"+path))
		return ""
	}
	plain := strings.NewReplacer("~0", "", "~1", "").Replace(text)
	if strings.Contains(plain, "~") {
		t.problem(key, text, "has a ~ that is neither ~0 (for ~) nor ~1 (for /)", fmt.Sprintf("%s = %q", key, strings.ReplaceAll(text, "~", "~0")))
		return ""
	}
	return text
}

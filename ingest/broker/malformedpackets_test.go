package broker_test

import (
	"bytes"
	"fmt"
	"slices"
)

// A sample is a packet as it should be: its first byte, and what follows its length.
type sample struct {
	name string
	head byte
	body []byte
}

// framed puts the length of a packet in front of its body.
func framed(head byte, body []byte) []byte { return withLength(head, len(body), body) }

func withLength(head byte, n int, body []byte) []byte {
	out := []byte{head}
	for {
		b := byte(n & 0x7f)
		if n >>= 7; n > 0 {
			out = append(out, b|0x80)
			continue
		}
		return append(append(out, b), body...)
	}
}

func joined(parts ...[]byte) []byte { return slices.Concat(parts...) }

// props are the properties of a packet of MQTT 5, and nothing before it.
func props(version byte, list ...byte) []byte {
	if version < 5 {
		return nil
	}
	return append([]byte{byte(len(list))}, list...)
}

// connectPacket is a good CONNECT; will is nil for none.
func connectPacket(version byte, id string, will []byte) []byte {
	flags := byte(2)
	if will != nil {
		flags |= 4 | 1<<3
	}
	return framed(0x10, joined(word("MQTT"), []byte{version, flags, 0, 60}, props(version), word(id), will))
}

// everyPacket is one of each kind.
func everyPacket(version byte) []sample {
	id := []byte{0, 7}
	user := append([]byte{38}, joined(word("a"), word("b"))...)
	will := joined(props(version, 24, 0, 0, 0, 9), word("house/gone"), word("lost"))
	return []sample{
		{"CONNECT", 0x10, connectPacket(version, "sample", nil)[2:]},
		{"CONNECT with everything", 0x10, joined(word("MQTT"), []byte{version, 0xce, 0, 60}, props(version, 17, 0, 0, 0, 9), word("sample"), will, word("user"), word("pass"))},
		{"CONNACK", 0x20, joined([]byte{0, 0}, props(version))},
		{"PUBLISH 0", 0x30, joined(word("alder/slow"), props(version), []byte("4.5"))},
		{"PUBLISH 1", 0x32, joined(word("alder/slow"), id, props(version), []byte("4.5"))},
		{"PUBLISH 1 with properties", 0x32, joined(word("alder/slow"), id, props(version, append([]byte{1, 1, 2, 0, 0, 0, 9}, user...)...), []byte("4.5"))},
		{"PUBLISH 2", 0x34, joined(word("alder/slow"), id, props(version), []byte("4.5"))},
		{"PUBLISH 1 kept, no reading", 0x33, joined(word("house/lamp"), id, props(version), []byte("on"))},
		{"PUBACK", 0x40, joined(id, props(version))}, {"PUBREC", 0x50, id}, {"PUBREL", 0x62, id}, {"PUBCOMP", 0x70, id},
		{"SUBSCRIBE", 0x82, joined(id, props(version), word("house/+"), []byte{1})},
		{"SUBSCRIBE to three", 0x82, joined(id, props(version, 11, 5), word("a"), []byte{0}, word("b/#"), []byte{1}, word("$share/g/c"), []byte{2})},
		{"SUBACK", 0x90, joined(id, props(version), []byte{0})},
		{"UNSUBSCRIBE", 0xa2, joined(id, props(version), word("house/+"))},
		{"UNSUBACK", 0xb0, joined(id, props(version), []byte{0})},
		{"PINGREQ", 0xc0, nil}, {"PINGRESP", 0xd0, nil},
		{"DISCONNECT", 0xe0, joined(props(version, 17, 0, 0, 0, 9))},
		{"AUTH", 0xf0, joined([]byte{0x18}, props(version, append([]byte{21}, word("x")...)...))},
		{"no kind", 0x00, id},
	}
}

// mutilated is what can go wrong with a packet, and the packet itself, which comes where it
// may not, or twice.
func mutilated(version byte, p sample) (all []attack) {
	add := func(how string, b []byte) {
		a := attack{name: fmt.Sprintf("%s of version %d, %s", p.name, version, how), version: version, bytes: b}
		all = append(all, a)
		if p.head == 0x10 || how == "whole" {
			a.first = true
			all = append(all, a)
		}
	}
	whole := framed(p.head, p.body)
	add("whole", whole)
	for i := range whole[1:] {
		add(fmt.Sprintf("cut off after %d bytes", i+1), whole[:i+1])
	}
	for i := range p.body {
		add(fmt.Sprintf("shortened to %d", i), framed(p.head, p.body[:i]))
		for _, odd := range []byte{0, 0xff, 0x80} {
			bent := slices.Clone(p.body)
			bent[i] = odd
			add(fmt.Sprintf("byte %d is %#x", i, odd), framed(p.head, bent))
		}
	}
	for flags := range byte(16) {
		add(fmt.Sprintf("flags %04b", flags), framed(p.head&0xf0|flags, p.body))
	}
	for _, n := range []int{0, 1, len(p.body) + 1, len(p.body) + 1000, 1 << 20, 3 << 20, 268435455} {
		add(fmt.Sprintf("length %d", n), withLength(p.head, n, p.body))
	}
	add("a length of five bytes", append([]byte{p.head, 0xff, 0xff, 0xff, 0xff, 1}, p.body...))
	add("a length without end", append([]byte{p.head}, bytes.Repeat([]byte{0x80}, 40)...))
	return all
}

// oddPackets are what the sheer bending of bytes does not come to.
func oddPackets() (all []attack) {
	publish := func(name, topic string, head byte, id ...byte) {
		for _, version := range []byte{4, 5} {
			all = append(all, attack{name: "PUBLISH, " + name, version: version, bytes: framed(head, joined(word(topic), id, props(version), []byte("4.5")))})
		}
	}
	one := []byte{0, 1}
	publish("packet 0", "alder/slow", 0x32, 0, 0)
	publish("quality 3", "alder/slow", 0x36, one...)
	publish("no topic", "", 0x32, one...)
	publish("a wildcard", "alder/+", 0x32, one...)
	publish("all", "#", 0x32, one...)
	publish("the broker's own", "$SYS/broker/version", 0x32, one...)
	publish("flitch's own", "flitch/status", 0x33, one...)
	publish("a zero", "alder/\x00slow", 0x32, one...)
	publish("half a letter", "alder/sl\xc3", 0x32, one...)
	publish("a surrogate", "alder/\xed\xa0\x80", 0x32, one...)
	publish("a topic of slashes", string(bytes.Repeat([]byte("/"), 65535)), 0x33, one...)
	publish("a long topic", string(bytes.Repeat([]byte("x"), 65535)), 0x33, one...)
	property := func(name string, list ...byte) {
		all = append(all, attack{name: "PUBLISH, " + name, version: 5, bytes: framed(0x32, joined(word("alder/slow"), one, props(5, list...), []byte("4.5")))})
	}
	property("alias 0", 35, 0, 0)
	property("alias 9", 35, 0, 9)
	property("a property twice", 1, 1, 1, 1)
	property("a subscription's", 11, 1)
	property("a property of nobody", 99, 1)
	property("half a property", 2, 0, 0)
	property("an endless number", 11, 0xff, 0xff, 0xff, 0xff, 0xff)
	all = append(all, attack{name: "PUBLISH, alias without a topic", version: 5, bytes: framed(0x32, joined(word(""), one, props(5, 35, 0, 1), []byte("4.5")))})
	for _, version := range []byte{4, 5} {
		for _, filter := range []string{"", "#/a", "a+", "a/#/b", "$share", "$share/", "$share/+/a", "$SYS/#", "a\x00b", string(bytes.Repeat([]byte("+/"), 30000)) + "#"} {
			all = append(all, attack{name: "SUBSCRIBE to " + filter[:min(9, len(filter))], version: version, bytes: framed(0x82, joined(one, props(version), word(filter), []byte{1}))})
		}
		all = append(all,
			attack{name: "SUBSCRIBE to nothing", version: version, bytes: framed(0x82, joined(one, props(version)))},
			attack{name: "SUBSCRIBE to ten thousand", version: version, bytes: framed(0x82, joined(one, props(version), bytes.Repeat(joined(word("a"), []byte{0}), 10000)))},
			attack{name: "CONNECT of 2 MB", version: version, first: true, bytes: withLength(0x10, 2<<20-10, bytes.Repeat([]byte("x"), 100))})
		for _, topic := range []string{"#", "alder/+", "$SYS/broker/version", "", "a\x00b"} {
			will := joined(props(version), word(topic), word("lost"))
			all = append(all, attack{name: "a last will on " + topic, version: version, first: true, bytes: connectPacket(version, "will", will)})
		}
	}
	for _, version := range []byte{0, 3, 6, 99, 0x84} {
		all = append(all, attack{name: fmt.Sprintf("version %d", version), version: 4, first: true, bytes: connectPacket(version, "x", nil)})
	}
	return append(all,
		attack{name: "HTTP", version: 4, first: true, bytes: []byte("GET / HTTP/1.1\r\nHost: a\r\n\r\n")},
		attack{name: "TLS", version: 4, first: true, bytes: []byte("\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03")},
		attack{name: "nothing", version: 4, first: true})
}

package ingest

import (
	"fmt"
	"slices"
	"testing"

	"flitch/ingest/decode"
	"flitch/process"
)

// Filters of MQTT 3.1.1, 4.7.1.3 and 4.7.2, and filters against filters.
func TestCovers(t *testing.T) {
	for _, c := range []struct {
		filter, topic string
		want          bool
	}{
		{"a/b", "a/b", true},
		{"a/b", "a/c", false},
		{"a/+", "a/b", true},
		{"a/+", "a/", true},
		{"a/+", "a", false},
		{"a/+", "a/b/c", false},
		{"+/b", "a/b", true},
		{"+/+", "/finance", true},
		{"/+", "/finance", true},
		{"+", "/finance", false},
		{"+/monitor", "$SYS/monitor", false},
		{"$SYS/+", "$SYS/monitor", true},
		{"a/+/c", "a/b/c", true},
		{"a/+/c", "a/+/c", true},
		{"a/+/c", "+/b/c", false},
		{"+/+/c", "a/+/c", true},
		{"a/b/c", "a/+/c", false},
		{"", "", true},
	} {
		if got := covers(c.filter, c.topic); got != c.want {
			t.Errorf("%q covers %q: %t", c.filter, c.topic, got)
		}
	}
}

func TestDirectory(t *testing.T) {
	m := func(name, topic, id, at string) Mapping {
		return Mapping{Topic: topic, Probe: process.PlacedProbe{Probe: name, Placement: process.Air}, Spec: decode.Spec{Value: "/v", ID: id, IDAt: at}}
	}
	d, err := newDirectory([]Mapping{
		m("one", "shed/+/t", "a", InTopic), m("two", "gw/+/ble", "x", "/id"), m("three", "gw/east/ble", "y", "/id"),
		m("four", "gw/+/ble", "z", "/id"), m("five", "shed/b/t", "", ""),
	})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := d.topics(), []string{"gw/+/ble", "shed/a/t", "shed/b/t"}; !slices.Equal(got, want) {
		t.Errorf("subscribes to %v, want %v", got, want)
	}
	for topic, want := range map[string]string{
		"shed/a/t": "[one]", "shed/b/t": "[five]", "shed/+/t": "[]", "gw/east/ble": "[three two four]", "gw/west/ble": "[two four]", "gw/west/x": "[]",
	} {
		names := []string{}
		for _, r := range d.of(topic) {
			names = append(names, r.probe.Probe)
		}
		if got := fmt.Sprint(names); got != want {
			t.Errorf("%s: %s, want %s", topic, got, want)
		}
		if d.reads(topic) != (want != "[]") {
			t.Errorf("%s: reads %t", topic, d.reads(topic))
		}
	}
}

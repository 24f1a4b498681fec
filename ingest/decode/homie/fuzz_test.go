package homie

import (
	"math"
	"strings"
	"testing"

	"flitch/ingest/decode"
)

// FuzzController: no two messages make it panic, hand out what is no number, or keep
// more than its bounds; what it does not read tells nothing.
func FuzzController(f *testing.F) {
	for _, s := range [][4]string{
		{"homie/5/fridge/$description", describedFridge, "homie/5/fridge/bottle/temperature", "3.9"},
		{"homie/5/fridge/$description", `{"root":"bridge"}`, "homie/5/bridge/$state", "lost"},
		{"homie/kettle/grate/temperature/$format", "0:300", "homie/kettle/grate/temperature", "301"},
		{"homie/kettle/grate/temperature/$datatype", "boolean", "homie/kettle/grate/temperature", "true"},
		{"homie/kettle/$nodes", "a,b[],,grate", "homie/kettle/grate/$properties", "temperature"},
		{"homie/kettle/$state", "alert", "homie/kettle/$state", ""},
		{"homie/5/fridge/$alert/low", "Battery is low", "homie/5/fridge/$stats/battery", "1e5"},
		{"homie/5/fridge/bottle/temperature", "\x00", "homie/5/fridge/bottle/temperature", "\xff"},
	} {
		f.Add(s[0], []byte(s[1]), s[2], []byte(s[3]), true)
	}
	wanted := must(f, "homie/5/fridge/bottle/temperature", "homie/kettle/grate/temperature")
	f.Fuzz(func(t *testing.T, topic1 string, payload1 []byte, topic2 string, payload2 []byte, retained bool) {
		c := New(wanted)
		for range 2 {
			check(t, c, topic1, payload1, false)
			check(t, c, topic2, payload2, retained)
		}
		if len(c.devices) != 2 || len(c.roots) > maxRoots {
			t.Fatal(len(c.devices), len(c.roots))
		}
		for _, d := range c.devices {
			for _, p := range d.properties {
				if len(p.unit) > maxAttribute || len(p.format) > maxAttribute {
					t.Fatal("too much is kept")
				}
			}
		}
	})
}

func check(t *testing.T, c *Controller, topic string, payload []byte, retained bool) {
	t.Helper()
	h := c.Take(topic, payload, retained)
	told := len(h.Values)+len(h.Alerts)+len(h.Stats) > 0 || h.Err != nil
	if told && !c.Reads(topic) {
		t.Fatalf("%q is not read and tells %s", topic, said(h))
	}
	for _, v := range h.Values {
		switch {
		case v.Err == nil && (math.IsNaN(v.Number) || math.Abs(v.Number) > decode.MaxValue):
			t.Fatalf("%+v", v)
		case v.Err != nil && strings.TrimSpace(v.Err.Error()) == "":
			t.Fatalf("a reason without words: %+v", v)
		case v.Retained != retained:
			t.Fatalf("%+v is not what the broker said of its age", v)
		}
	}
}

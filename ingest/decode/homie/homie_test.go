package homie

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"flitch/ingest/decode"
)

// must reads the topics of properties.
func must(t testing.TB, topics ...string) (out []Property) {
	t.Helper()
	for _, topic := range topics {
		p, err := ParseProperty(topic)
		if err != nil {
			t.Fatal(err)
		}
		if p.Topic() != topic {
			t.Fatalf("%q became %q", topic, p.Topic())
		}
		out = append(out, p)
	}
	return out
}

// said puts what was heard into words.
func said(h Heard) string {
	var out []string
	for _, c := range h.Changes {
		word := "back "
		if c.Gone {
			word = "gone "
		}
		out = append(out, word+c.Device+": "+c.Words)
	}
	for _, v := range h.Values {
		out = append(out, valueText(v))
	}
	for _, a := range h.Alerts {
		out = append(out, fmt.Sprintf("alert %s %s %q", a.Device, a.ID, a.Text))
	}
	for _, s := range h.Stats {
		out = append(out, fmt.Sprintf("%s %s %g", s.Device, s.Name, s.Number))
	}
	if h.Err != nil {
		out = append(out, h.Err.Error())
	}
	return strings.Join(out, "; ")
}

func valueText(v Value) string {
	text := strings.TrimSpace(fmt.Sprintf("%s = %g %s", v.Property, v.Number, v.Unit))
	var p *decode.Problem
	if errors.As(v.Err, &p) {
		text = fmt.Sprintf("%s: %s: %s", v.Property, p.Class, p.Text)
	}
	if v.Retained {
		text += " retained"
	}
	return strings.TrimSpace(text + " " + v.Doubt)
}

// A step is a message and what it has to tell.
type step struct {
	topic, payload string
	retained       bool
	want           string
}

func run(t *testing.T, c *Controller, steps []step) {
	t.Helper()
	for _, s := range steps {
		if !c.Reads(s.topic) {
			t.Errorf("%s is not read", s.topic)
		}
		if got := said(c.Take(s.topic, []byte(s.payload), s.retained)); got != s.want {
			t.Errorf("%s %s\n got %q\nwant %q", s.topic, s.payload, got, s.want)
		}
	}
}

// A device of versions 3 and 4, from the first subscription to its last will.
func TestVersionsThreeAndFour(t *testing.T) {
	c := New(must(t, "homie/fridge/bottle/temperature", "homie/fridge/bottle/door", "homie/fridge/probe_0/temperature"))
	const d = "homie/fridge/"
	run(t, c, []step{
		{d + "$state", "ready", true, "back homie/fridge: Homie $state ready; alert homie/fridge state \"\""},
		{d + "$nodes", "bottle,probe[]", true, ""},
		{d + "$nodes", "bottle", true, "homie/fridge announces no node probe_0: it has bottle"},
		{d + "bottle/$properties", "temperature,door", true, ""},
		{d + "bottle/$properties", "temp,door", true, "homie/fridge/bottle announces no property temperature: it has door, temp"},
		{d + "probe/$properties", "temperature", true, ""},
		{d + "bottle/temperature/$unit", "°F", true, ""},
		{d + "bottle/temperature/$datatype", "float", true, ""},
		{d + "bottle/temperature/$format", "-40:185", true, ""},
		{d + "bottle/door/$datatype", "boolean", true, ""},
		{d + "bottle/temperature", "38.9", true, "homie/fridge/bottle/temperature = 38.9 °F retained"},
		{d + "bottle/temperature", "39.1", false, "homie/fridge/bottle/temperature = 39.1 °F"},
		{d + "bottle/door", "true", false, "homie/fridge/bottle/door = 1"},
		{d + "bottle/door", "TRUE", false, "homie/fridge/bottle/door: not a number: \"TRUE\" is no boolean: the convention knows true and false"},
		{d + "probe_0/temperature", "4.2", false, "homie/fridge/probe_0/temperature = 4.2"},
		{d + "bottle/temperature", "-196.6", false, "homie/fridge/bottle/temperature: not a number: -196.6 is outside \"-40:185\", the range the device gives"},
		{d + "bottle/temperature", "39,1", false, "homie/fridge/bottle/temperature: not a number: \"39,1\" is not a number: the convention writes digits, a dot, and nothing else"},
		{d + "bottle/temperature", "NaN", false, "homie/fridge/bottle/temperature: not a number: \"NaN\" is not a number: the convention writes digits, a dot, and nothing else"},
		{d + "bottle/temperature", "", false, "homie/fridge/bottle/temperature: no value: the property is empty"},
		{d + "$stats/battery", "78", false, "homie/fridge battery 78"},
		{d + "$stats/battery", "78", true, ""},
		{d + "$stats/signal", "-", false, ""},
		{d + "$stats/uptime", "86400", false, "homie/fridge uptime 86400"},
		{d + "$state", "alert", false, "alert homie/fridge state \"something is wrong with it (Homie $state alert)\""},
		{d + "$state", "ready", false, "alert homie/fridge state \"\""},
		{d + "$state", "sleeping", false, ""},
		{d + "$state", "lost", false, "gone homie/fridge: its connection broke (Homie $state lost)"},
		{d + "bottle/temperature", "39.2", false, "homie/fridge/bottle/temperature = 39.2 °F came though its device says it is gone"},
		{d + "$state", "lost", true, ""},
		{d + "$state", "init", false, "back homie/fridge: Homie $state init"},
		{d + "$state", "disconnected", false, "gone homie/fridge: it said goodbye (Homie $state disconnected)"},
		{d + "$state", "on fire", false, "$state is \"on fire\": the convention knows init, ready, disconnected, sleeping, lost and alert"},
		{d + "bottle/temperature/$datatype", "enum", true, ""},
		{d + "bottle/temperature", "1", false, "homie/fridge/bottle/temperature: not a number: the device calls it \"enum\": only numbers and booleans are read came though its device says it is gone"},
	})
}

const describedFridge = `{"homie":"5.0","version":7,"name":"Fridge","nodes":{"bottle":{"name":"Bottle","properties":{
 "temperature":{"datatype":"float","unit":"°C","format":"-30:60:0.1"},"lamp":{"datatype":"boolean"}}}}}`

// A device of version 5, and one whose connection is that of its root.
func TestVersionFive(t *testing.T) {
	c := New(must(t, "homie/5/fridge/bottle/temperature", "homie/5/probe-2/core/temperature", "house/5/fridge/bottle/temperature"))
	const d = "homie/5/fridge/"
	run(t, c, []step{
		{d + "bottle/temperature", "3.8", true, "homie/5/fridge/bottle/temperature = 3.8 retained"},
		{d + "$description", describedFridge, true, ""},
		{d + "$state", "ready", true, "back homie/5/fridge: Homie $state ready; alert homie/5/fridge state \"\""},
		{d + "bottle/temperature", "3.9", false, "homie/5/fridge/bottle/temperature = 3.9 °C"},
		{d + "bottle/temperature", "61", false, "homie/5/fridge/bottle/temperature: not a number: 61 is outside \"-30:60:0.1\", the range the device gives"},
		{d + "$alert/battery", "Battery is low, at 8%", false, "alert homie/5/fridge battery \"Battery is low, at 8%\""},
		{d + "$alert/battery", "", false, "alert homie/5/fridge battery \"\""},
		{d + "$description", `{"nodes":{"bottle":{"properties":{"temp":{"unit":"°C"}}}}}`, false, "homie/5/fridge/bottle announces no property temperature: it has temp"},
		{d + "$description", `{"nodes":{"flask":{}}}`, false, "homie/5/fridge announces no node bottle: it has flask"},
		{d + "$description", `{"nodes":[]}`, false, "$description is not what version 5 describes: json: cannot unmarshal array into Go struct field description.nodes of type map[string]homie.describedNode"},
		{d + "$description", describedFridge, false, ""},
		{d + "bottle/temperature", "4.0", false, "homie/5/fridge/bottle/temperature = 4 °C"},
		{"homie/5/probe-2/$state", "ready", false, "back homie/5/probe-2: Homie $state ready; alert homie/5/probe-2 state \"\""},
		{"homie/5/bridge/$state", "ready", false, ""},
		{"homie/5/probe-2/$description", `{"root":"bridge","nodes":{"core":{"properties":{"temperature":{"unit":"K"}}}}}`, false, ""},
		{"homie/5/bridge/$state", "lost", false, "gone homie/5/probe-2: the connection of its root device bridge broke (Homie $state lost)"},
		{"homie/5/probe-2/$state", "ready", false, ""},
		{"homie/5/bridge/$state", "init", false, "back homie/5/probe-2: Homie $state ready"},
		{d + "$state", "", false, "gone homie/5/fridge: it was removed (Homie $state empty)"},
		{"house/5/fridge/$state", "lost", true, "gone house/5/fridge: its connection broke (Homie $state lost); alert house/5/fridge state \"\""},
	})
}

// The root may be lost before its child says whose child it is; and a wanted device may
// be the root of another.
func TestTheRootIsLostFirst(t *testing.T) {
	c := New(must(t, "homie/5/probe/core/temperature", "homie/5/bridge/own/temperature"))
	run(t, c, []step{
		{"homie/5/bridge/$state", "lost", true, "gone homie/5/bridge: its connection broke (Homie $state lost); alert homie/5/bridge state \"\""},
		{"homie/5/probe/$state", "ready", true, "back homie/5/probe: Homie $state ready; alert homie/5/probe state \"\""},
		{"homie/5/probe/$description", `{"root":"bridge","nodes":{"core":{"properties":{"temperature":{}}}}}`, true, "gone homie/5/probe: the connection of its root device bridge broke (Homie $state lost)"},
		{"homie/5/bridge/$state", "ready", true, "back homie/5/bridge: Homie $state ready; back homie/5/probe: Homie $state ready"},
	})
	c = New(must(t, "homie/5/probe/core/temperature"))
	run(t, c, []step{
		{"homie/5/bridge/$state", "lost", true, ""},
		{"homie/5/probe/$description", `{"root":"bridge","nodes":{"core":{"properties":{"temperature":{}}}}}`, true, "gone homie/5/probe: the connection of its root device bridge broke (Homie $state lost)"},
	})
	for i := range 2 * maxRoots {
		c.Take(fmt.Sprintf("homie/5/d%d/$state", i), []byte("lost"), false)
	}
	if len(c.roots) > maxRoots {
		t.Errorf("%d states of others are kept", len(c.roots))
	}
	run(t, c, []step{{"homie/5/bridge/$state", "init", false, ""}, {"homie/5/probe/$state", "ready", false, "back homie/5/probe: Homie $state ready; alert homie/5/probe state \"\""}})
}

func TestWhatIsNotRead(t *testing.T) {
	c := New(must(t, "homie/5/fridge/bottle/temperature", "homie/kettle/grate/temperature"))
	for _, topic := range []string{
		"", "homie", "homie/5/fridge", "homie/5/fridge/bottle", "homie/5/fridge/bottle/temperature/set", "homie/5/fridge/bottle/temperature/$target",
		"homie/5/fridge/$log/warn", "homie/5/fridge/$nodes", "homie/5/fridge/bottle/$properties", "homie/5/fridge/bottle/temperature/$unit", "homie/5/other/bottle/temperature",
		"homie/5/other/$description", "homie/other/$state", "other/5/fridge/$state", "homie/kettle/$alert/x", "homie/kettle/$description", "homie/kettle/$stats/cputemp", "homie/kettle/other/$properties",
	} {
		if c.Reads(topic) {
			t.Errorf("%q is read", topic)
		}
		if got := said(c.Take(topic, []byte("1"), false)); got != "" {
			t.Errorf("%q tells %q", topic, got)
		}
	}
}

func TestTopicsThatCannotBe(t *testing.T) {
	for _, topic := range []string{"", "homie", "homie/5/fridge/bottle", "homie/fridge/bottle", "homie/5/fridge/bottle/temperature/set", "homie/fridge/bottle/$properties",
		"homie/5/Fridge/bottle/temperature", "homie/5/+/bottle/temperature", "/5/fridge/bottle/temperature", "homie/5//bottle/temperature", "my house/a/b/c/d"} {
		if p, err := ParseProperty(topic); err == nil || !strings.Contains(err.Error(), "write homie/5/device/node/property") {
			t.Errorf("%q: %+v, %v", topic, p, err)
		}
	}
}

func TestSubscriptions(t *testing.T) {
	c := New(must(t, "homie/5/fridge/bottle/temperature", "homie/5/fridge/bottle/lamp", "homie/kettle/grate/temperature"))
	want := strings.Fields(`homie/5/+/$state homie/5/fridge/$alert/+ homie/5/fridge/$description homie/5/fridge/$stats/battery homie/5/fridge/$stats/signal
 homie/5/fridge/$stats/uptime homie/5/fridge/bottle/lamp homie/5/fridge/bottle/temperature homie/kettle/$nodes homie/kettle/$state
 homie/kettle/$stats/battery homie/kettle/$stats/signal homie/kettle/$stats/uptime homie/kettle/grate/$properties homie/kettle/grate/temperature
 homie/kettle/grate/temperature/$datatype homie/kettle/grate/temperature/$format homie/kettle/grate/temperature/$unit`)
	if got := c.Filters(); strings.Join(got, " ") != strings.Join(want, " ") {
		t.Errorf("got %q\nwant %q", got, want)
	}
}

func TestWhatIsKeptIsBounded(t *testing.T) {
	c := New(must(t, "homie/5/fridge/bottle/temperature"))
	huge := `{"nodes":{"bottle":{"properties":{"temperature":{"unit":"` + strings.Repeat("C", 5000) + `"}}}}}`
	if got := said(c.Take("homie/5/fridge/$description", []byte(huge), false)); got != "" || c.devices["homie/5/fridge"].properties["bottle/temperature"].unit != "" {
		t.Error("a unit of 5000 letters is kept", got)
	}
	got := c.Take("homie/5/fridge/$description", make([]byte, decode.MaxPayload+1), false)
	if decode.ClassOf(got.Err) != decode.TooLarge {
		t.Error(got.Err)
	}
	if got := c.Take("homie/5/fridge/$alert/x", []byte(strings.Repeat("°", 5000)), false); len(got.Alerts[0].Text) > maxAlert {
		t.Error(len(got.Alerts[0].Text))
	}
}

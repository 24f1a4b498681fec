package ingest_test

import (
	"encoding/hex"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/process"
	"flitch/testdata/published"
)

// A spoken is what an intake told besides storing.
type spoken struct {
	mu    sync.Mutex
	words []string
	calls []ingest.Call
}

func (s *spoken) options(c *counts) ingest.Options {
	return ingest.Options{Observe: c, Said: s.said, Vital: s.vital,
		Call: func(c ingest.Call) { s.mu.Lock(); defer s.mu.Unlock(); s.calls = append(s.calls, c) }}
}

func (s *spoken) add(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.words = append(s.words, fmt.Sprintf(format, args...))
}

func (s *spoken) said(w ingest.Said) {
	switch {
	case w.Gone:
		s.add("%s gone: %s", w.Probe, w.SensorWord.Words)
	case w.Back:
		s.add("%s back", w.Probe)
	case w.Asks != "":
		s.add("%s asks %s: %s", w.Probe, w.SensorWord.Words, w.Asks)
	}
}

func (s *spoken) vital(v ingest.Vital) { s.add("%s %s %g", v.Probe, v.Kind, v.Value) }

func homieMap(topic, name string, p process.Placement, unit string) ingest.Mapping {
	return ingest.Mapping{Protocol: ingest.Homie, Topic: topic, Probe: probe(name, p), Spec: decode.Spec{Unit: unit}}
}

// submitAt submits with a time of arrival.
func (r running) submitAt(t testing.TB, at time.Time, topic string, payload []byte, retained bool) {
	t.Helper()
	if err := r.Submit(t.Context(), ingest.Message{Topic: topic, Payload: payload, Retained: retained, Received: at}); err != nil {
		t.Fatal(err)
	}
}

// A device of Homie 4 from its kept copies to its last will. A copy that was kept is
// never stored; a live value is, in the unit that the device announces.
func TestADeviceOfHomie(t *testing.T) {
	s, c, told := newShelf(t), &counts{}, &spoken{}
	in := start(t, s, []ingest.Mapping{homieMap("homie/fridge/bottle/temperature", "slow", process.Product, ""),
		homieMap("homie/fridge/air/temperature", "air", process.Air, "C"), homieMap("homie/fridge/reed/open", "door", process.Door, ""),
		homieMap("homie/fridge/air/humidity", "damp", process.Humidity, "")}, told.options(c))
	const d = "homie/fridge/"
	at := time.Date(2031, 5, 2, 21, 14, 0, 0, time.UTC)
	for i, m := range []struct {
		topic, payload string
		retained       bool
	}{
		{"$state", "ready", true},
		{"bottle/temperature", "41.0", true}, // old
		{"bottle/temperature/$unit", "°F", true},
		{"bottle/temperature/$datatype", "float", true},
		{"reed/open/$datatype", "boolean", true},
		{"air/humidity/$unit", "%", true},
		{"bottle/temperature", "38.3", false},
		{"air/temperature", "3.5", false}, // no unit announced: as the mapping says
		{"reed/open", "true", false},
		{"air/humidity", "61", false},
		{"bottle/temperature", "", false},
		{"air/temperature/$unit", "°F", false},
		{"air/temperature", "38.1", false}, // the mapping says C
		{"air/humidity/$unit", "Pa", false},
		{"air/humidity", "800", false},
		{"$stats/battery", "78", false},
		{"$stats/battery", "12", true},
		{"$stats/uptime", "5", false},
		{"$state", "alert", false},
		{"$state", "lost", false},
		{"bottle/temperature", "38.7", false},
		{"$state", "ready", false},
	} {
		if !in.Reads(d + m.topic) {
			t.Errorf("%s is not read", m.topic)
		}
		in.submitAt(t, at.Add(time.Duration(i)*time.Second), d+m.topic, []byte(m.payload), m.retained)
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	slow := s.Series(t, "slow")
	if len(slow) != 2 || fmt.Sprintf("%.2f %.2f", slow[0].Value, slow[1].Value) != "3.50 3.72" || slow[0].Quality != process.Good ||
		!slow[0].Measured.Equal(at.Add(6*time.Second)) || slow[1].Quality != process.Suspect || slow[1].Reason != "came though its device says it is gone" {
		t.Errorf("slow: %+v", slow)
	}
	for name, want := range map[string]string{"air": "[3.5]", "door": "[1]", "damp": "[61]"} {
		if got := fmt.Sprint(s.Values(t, name)); got != want {
			t.Errorf("%s: %s, want %s", name, got, want)
		}
	}
	if got := fmt.Sprint(c.rejected); got != "map[no value:1 retained:1 wrong unit:2]" || c.unmapped != 0 {
		t.Errorf("rejected %s, unmapped %d", got, c.unmapped)
	}
	want := "slow back, air back, door back, damp back, slow battery 78, air battery 78, door battery 78, damp battery 78, " +
		"slow asks state: something is wrong with it (Homie $state alert), " +
		"slow gone: its connection broke (Homie $state lost), air gone: its connection broke (Homie $state lost), door gone: its connection broke (Homie $state lost), damp gone: its connection broke (Homie $state lost), " +
		"slow back, air back, door back, damp back"
	if got := strings.Join(told.words, ", "); got != want {
		t.Errorf("told\n%s\nwant\n%s", got, want)
	}
}

func sparkplugMap(topic, metric, name string, p process.Placement, vitals ...ingest.VitalAt) ingest.Mapping {
	return ingest.Mapping{Protocol: ingest.Sparkplug, Topic: topic, Metric: metric, Probe: probe(name, p), Vitals: vitals}
}

// The night of another encoder, through intake and store: what is stored is dated by the
// metric, historical values at their own time, and a birth is asked for once a minute.
func TestANightOfSparkplug(t *testing.T) {
	table, err := published.Read("sparkplug_messages.csv")
	if err != nil {
		t.Fatal(err)
	}
	s, c, told := newShelf(t), &counts{}, &spoken{}
	room := sparkplugMap("shop/kettle", "room", "room", process.Ambient)
	room.Unit = "C"
	in := start(t, s, []ingest.Mapping{room, sparkplugMap("shop/kettle/probes", "core", "core", process.Core), sparkplugMap("shop/kettle/probes", "weight", "scale", process.Weight),
		sparkplugMap("shop/kettle/probes", "door", "lid", process.Door)}, told.options(c))
	at := time.UnixMilli(1935515643000).Add(2 * time.Second)
	for i, row := range table.Rows {
		body, err := hex.DecodeString(row.Text(t, "payload"))
		if err != nil {
			t.Fatal(err)
		}
		if topic := row.Text(t, "topic"); in.Reads(topic) {
			in.submitAt(t, at.Add(time.Duration(i)*5*time.Second), topic, body, false)
		}
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	// Of 130.5 °F and later the repeated births without a unit are refused; of the two
	// values with the time of the first birth the first one stands.
	var core []string
	for _, r := range s.Series(t, "core") {
		core = append(core, fmt.Sprintf("%d %.2f %s", r.Measured.UnixMilli()-1935515643000, r.Value*9/5+32, r.Quality))
	}
	if got, want := strings.Join(core, ", "), "0 128.30 good, 4000 129.10 good, 20000 129.50 good, 40000 129.75 good, 60000 130.00 good, 61000 130.50 good, 65000 132.50 good"; got != want {
		t.Errorf("core\n%s\nwant\n%s", got, want)
	}
	if got := fmt.Sprint(s.Values(t, "scale"), s.Values(t, "lid")); got != "[4250 4240] [1]" {
		t.Errorf("scale and lid: %s", got)
	}
	if got := fmt.Sprint(c.rejected["no birth"]); got != "6" {
		t.Errorf("rejected %v", c.rejected)
	}
	if len(told.calls) != 3 || told.calls[0].Topic != "spBv1.0/shop/NCMD/kettle" || told.calls[0].Why == "" || len(told.calls[0].Payload) == 0 {
		t.Errorf("%d calls in two minutes and a quarter: %+v", len(told.calls), told.calls)
	}
	if got := strings.Join(told.words[len(told.words)-4:], ", "); !strings.HasPrefix(got, "room gone: its node is gone (Sparkplug NDEATH), core gone") {
		t.Errorf("told %s", got)
	}
}

// A stored value is never taken for one of now: without a time that can be, or in a
// birth with a time long past, it is refused.
func TestAStoredValueWithoutATime(t *testing.T) {
	s, c := newShelf(t), &counts{}
	m := sparkplugMap("shop/kettle", "t", "core", process.Core)
	m.Unit = "C"
	in := start(t, s, []ingest.Mapping{m}, (&spoken{}).options(c))
	// metric t, double 54.5: historical without a time; the same in a birth of 1970.
	historical, _ := hex.DecodeString("120e0a017428016900000000004" + "04b40")
	birth, _ := hex.DecodeString("0801120c0a01746900000000004" + "04b40" + "1800")
	at := time.Date(2031, 5, 2, 21, 14, 0, 0, time.UTC)
	in.submitAt(t, at, "spBv1.0/shop/NDATA/kettle", historical, false)
	in.submitAt(t, at, "spBv1.0/shop/NBIRTH/kettle", birth, false)
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(c.rejected); got != "map[no time:2]" || len(s.Values(t, "core")) != 0 {
		t.Errorf("rejected %s, stored %v", got, s.Values(t, "core"))
	}
}

// A battery counts in the unit its limit is in. One that nobody named has to say so.
func TestABatteryOfSparkplug(t *testing.T) {
	told := &spoken{}
	battery := ingest.VitalAt{Kind: process.VitalBattery, Pointer: "battery", Unit: "%", Loose: true}
	cell := ingest.VitalAt{Kind: process.VitalBattery, Pointer: "Cell", Unit: "V"}
	in := start(t, newShelf(t), []ingest.Mapping{sparkplugMap("shop/a", "t", "core", process.Core, battery), sparkplugMap("shop/b", "t", "air", process.Air, cell)}, told.options(&counts{}))
	at := time.Date(2031, 5, 2, 21, 14, 0, 0, time.UTC)
	for _, m := range []struct{ node, name, unit string }{
		{"a", "Properties/Battery", "%"}, {"a", "Battery", ""}, {"a", "BATTERY", "V"}, {"b", "Cell", ""}, {"b", "Cell", "V"}, {"b", "Cell", "%"}, {"b", "Battery", "%"},
	} {
		in.submitAt(t, at, "spBv1.0/shop/NDATA/"+m.node, named(m.name, m.unit), false)
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(told.words, ", "); got != "core battery 7, air battery 7, air battery 7" {
		t.Error(got)
	}
}

// named is a message with one metric of the value 7 and a unit, by the field numbers
// of the schema.
func named(name, unit string) []byte {
	field := func(tag byte, b []byte) []byte { return append([]byte{tag, byte(len(b))}, b...) }
	metric := append(field(0x0a, []byte(name)), 0x50, 7)
	if unit != "" {
		metric = append(metric, field(0x4a, append(field(0x0a, []byte("engUnit")), field(0x12, field(0x42, []byte(unit)))...))...)
	}
	return field(0x12, metric)
}

func TestProtocolMappingsThatCannotBe(t *testing.T) {
	withPath := homieMap("homie/5/fridge/bottle/temperature", "slow", process.Product, "")
	withPath.Value = "/v"
	bare := homieMap("homie/a/b/c", "slow", process.Product, "")
	bare.Sensor.Kind = "pt100"
	for want, maps := range map[string][]ingest.Mapping{
		"its device sends degrees":               {bare},
		"write homie or sparkplug":               {{Protocol: "opc", Topic: "x", Probe: probe("slow", process.Product)}},
		"is not the topic of a Homie property":   {homieMap("homie/5/fridge", "slow", process.Product, "")},
		"has no paths":                           {withPath},
		"leave the unit out":                     {homieMap("homie/5/fridge/air/humidity", "damp", process.Humidity, "C")},
		"feeds probe \"slow\" already":           {homieMap("homie/a/b/c", "slow", process.Product, ""), homieMap("homie/a/b/c", "air", process.Air, "")},
		"write group/node":                       {sparkplugMap("shop", "t", "core", process.Core)},
		"a metric has to be named":               {sparkplugMap("shop/kettle", "", "core", process.Core)},
		"metric \"t\" feeds probe \"a\" already": {sparkplugMap("shop/kettle", "t", "a", process.Core), sparkplugMap("shop/kettle", "t", "b", process.Core)},
		"placement \"meat\" is not known":        {sparkplugMap("shop/kettle", "t", "a", "meat")},
	} {
		if _, err := ingest.New(newShelf(t), wall{}, maps, ingest.Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

// At a new connection every node is asked, and again not before a minute is over.
func TestEveryNodeIsAskedAtTheStart(t *testing.T) {
	told := &spoken{}
	in := start(t, newShelf(t), []ingest.Mapping{sparkplugMap("shop/b/x", "t", "a", process.Core), sparkplugMap("shop/a", "t", "b", process.Core)}, told.options(&counts{}))
	in.AskForBirths()
	in.AskForBirths()
	var topics []string
	for _, c := range told.calls {
		topics = append(topics, c.Topic)
	}
	if got := strings.Join(topics, " "); got != "spBv1.0/shop/NCMD/a spBv1.0/shop/NCMD/b" {
		t.Error(got)
	}
	if got := strings.Join(in.Topics(), " "); !strings.Contains(got, "spBv1.0/shop/DDATA/b/+") || strings.Contains(got, "NCMD") {
		t.Error(got)
	}
}

// Units that are no temperature's.
func TestAnnouncedUnits(t *testing.T) {
	for _, u := range []struct {
		placement  process.Placement
		unit, want string
	}{
		{process.Weight, "kg", "[2000]"}, {process.Weight, "lb", "[907.18474]"}, {process.Weight, "oz", "[56.69904625]"}, {process.Weight, "g", "[2]"},
		{process.Weight, "", "[2]"}, {process.Weight, "N", "[]"}, {process.Power, "kW", "[2000]"}, {process.Power, "W", "[2]"}, {process.Humidity, "%", "[2]"},
		{process.Core, "", "[]"}, {process.Core, "K", "[-271.15]"}, {process.Core, "℃", "[2]"}, {process.Core, "W", "[]"},
	} {
		s := newShelf(t)
		in := start(t, s, []ingest.Mapping{homieMap("homie/a/b/c", "x", u.placement, "")}, ingest.Options{})
		at := time.Now()
		in.submitAt(t, at, "homie/a/b/c/$unit", []byte(u.unit), true)
		in.submitAt(t, at, "homie/a/b/c", []byte("2"), false)
		if err := in.Stop(); err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(s.Values(t, "x")); got != u.want {
			t.Errorf("%s in %q: %s, want %s", u.placement, u.unit, got, u.want)
		}
	}
}

// A switch may speak in words: those that are declared stand for numbers, also for what
// the protocol calls an enumeration, text, or a boolean that means the contrary.
func TestWordsOfASwitch(t *testing.T) {
	s, c := newShelf(t), &counts{}
	lid := homieMap("homie/a/b/lid", "lid", process.Door, "")
	lid.Words = map[string]float64{"OPEN": 1, "SHUT": 0}
	reed := homieMap("homie/a/b/reed", "reed", process.Door, "") // true means shut
	reed.Words = map[string]float64{"true": 0, "false": 1}
	gate := sparkplugMap("shop/a", "gate", "gate", process.Door)
	gate.Words = map[string]float64{"open": 1}
	in := start(t, s, []ingest.Mapping{lid, reed, gate}, (&spoken{}).options(c))
	at := time.Date(2031, 5, 2, 21, 14, 0, 0, time.UTC)
	text := []byte{0x12, 12, 0x0a, 4, 'g', 'a', 't', 'e', 0x7a, 4, 'o', 'p', 'e', 'n'} // metric gate, string_value open
	for i, m := range []struct{ topic, payload string }{
		{"homie/a/b/lid/$datatype", "enum"}, {"homie/a/b/lid", "OPEN"}, {"homie/a/b/lid", "AJAR"}, {"homie/a/b/lid", ""},
		{"homie/a/b/reed/$datatype", "boolean"}, {"homie/a/b/reed", "true"}, {"homie/a/b/reed", "false"}, {"spBv1.0/shop/NDATA/a", string(text)},
	} {
		in.submitAt(t, at.Add(time.Duration(i)*time.Minute), m.topic, []byte(m.payload), false)
	}
	if err := in.Stop(); err != nil {
		t.Fatal(err)
	}
	if got := fmt.Sprint(s.Values(t, "lid"), s.Values(t, "reed"), s.Values(t, "gate")); got != "[1] [0 1] [1]" || fmt.Sprint(c.rejected) != "map[not a number:2]" {
		t.Errorf("%s, rejected %v", got, c.rejected)
	}
}

package sparkplug

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protowire"

	"flitch/ingest/decode"
)

func TestSources(t *testing.T) {
	for text, want := range map[string]string{
		"shop/kettle": "node shop/kettle", "shop/kettle/probes": "device shop/kettle/probes", "Shop A/Raspberry Pi": "node Shop A/Raspberry Pi",
		"shop": "", "": "", "shop//probes": "", "a/b/c/d": "", "shop/+": "", "shop/#": "",
	} {
		s, err := ParseSource(text)
		if want == "" {
			if err == nil || !strings.Contains(err.Error(), "write group/node") {
				t.Errorf("%q: %v, %v", text, s, err)
			}
			continue
		}
		if err != nil || s.String() != want {
			t.Errorf("%q: %v, %v", text, s, err)
		}
	}
}

func TestFilters(t *testing.T) {
	h := NewHost(append(wanted(), Wanted{Source{Group: "shop", Node: "fridge"}, "t", false}))
	got := strings.Join(h.Filters(), " ")
	for _, want := range []string{"spBv1.0/shop/NBIRTH/kettle", "spBv1.0/shop/NDEATH/fridge", "spBv1.0/shop/DDATA/kettle/+"} {
		if !strings.Contains(got, want) {
			t.Errorf("%s is missing in %s", want, got)
		}
	}
	if strings.Contains(got, "CMD") {
		t.Error("commands are subscribed to:", got)
	}
	for topic, want := range map[string]bool{
		"spBv1.0/shop/DDATA/kettle/anything": true, "spBv1.0/shop/NDATA/kettle": true, "spBv1.0/shop/NDATA/other": false,
		"spBv1.0/shop/NCMD/kettle": false, "spBv1.0/shop/DDATA/kettle": false, "spBv1.0/STATE/host": false, "spAv1.0/shop/NDATA/kettle": false, "": false,
	} {
		if h.Reads(topic) != want {
			t.Errorf("Reads(%q) = %t", topic, !want)
		}
	}
}

// A device that nobody reads is part of the sequence.
func TestOtherDevicesKeepTheSequence(t *testing.T) {
	h := NewHost(wanted())
	h.Take("spBv1.0/shop/NBIRTH/kettle", message(0, number("bdSeq", 1)), false)
	h.Take("spBv1.0/shop/DBIRTH/kettle/probes", message(1, number("core", 50)), false)
	for i, topic := range []string{"spBv1.0/shop/DBIRTH/kettle/lamp", "spBv1.0/shop/DDATA/kettle/lamp", "spBv1.0/shop/DDEATH/kettle/lamp"} {
		if got := h.Take(topic, message(uint64(2+i), number("on", 1)), false); told(got) != "" {
			t.Errorf("%s: %s", topic, told(got))
		}
	}
	if got := told(h.Take("spBv1.0/shop/DDATA/kettle/probes", message(5, number("core", 51)), false)); !strings.HasPrefix(got, "core=51") {
		t.Error(got)
	}
}

func TestARetainedCopyIsNoBirthAndNoData(t *testing.T) {
	h := NewHost(wanted())
	got := h.Take("spBv1.0/shop/NBIRTH/kettle", message(0, number("bdSeq", 1), number("room", 5)), true)
	if decode.ClassOf(got.Err) != decode.Retained || len(got.Values)+len(got.Changes) > 0 {
		t.Errorf("%+v", got)
	}
}

func TestALooseName(t *testing.T) {
	probes := Source{Group: "shop", Node: "kettle", Device: "probes"}
	h := NewHost([]Wanted{{probes, "core", false}, {probes, "Battery", true}, {probes, "", false}})
	got := h.Take("spBv1.0/shop/DDATA/kettle/probes", message(1, number("Properties/battery", 78), number("battery charge", 1), number("Core", 2), number("core", 3), number("", 4)), false)
	if told(got) != "Battery=78 at -62135596800000; core=3 at -62135596800000" {
		t.Error(told(got))
	}
}

// A birth of a device tells its aliases even if its node's was missed, and then that
// one is asked for.
func TestADeviceBirthAlone(t *testing.T) {
	h := NewHost(wanted())
	got := told(h.Take("spBv1.0/shop/DBIRTH/kettle/probes", message(7, number("core", 50)), false))
	if !strings.HasPrefix(got, "back device shop/kettle/probes; core=50") || !strings.HasSuffix(got, "rebirth") {
		t.Error(got)
	}
}

// A death without a number, or of a session whose birth was missed, is believed: the
// other mistake would keep a dead sensor fresh.
func TestADeathThatCannotBeMatchedIsBelieved(t *testing.T) {
	for name, death := range map[string][]byte{"no number": {}, "number": message(math.MaxUint64, number("bdSeq", 8))} {
		h := NewHost(wanted())
		if name == "no number" {
			h.Take("spBv1.0/shop/NBIRTH/kettle", message(0, number("bdSeq", 1)), false)
		}
		if got := h.Take("spBv1.0/shop/NDEATH/kettle", death, false); len(got.Changes) != 2 || !got.Changes[0].Gone {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestRubbishIsRefusedWithWords(t *testing.T) {
	many := make([]byte, 0, 2*maxMetrics+2)
	for range maxMetrics + 1 {
		many = append(many, 0x12, 0)
	}
	for name, c := range map[string]struct {
		body  []byte
		class decode.Class
	}{
		"text":     {[]byte(`{"temperature":3.9}`), decode.NotProtobuf},
		"cut":      {[]byte{0x12, 40, 1}, decode.NotProtobuf},
		"metrics":  {many, decode.NotProtobuf},
		"too long": {make([]byte, MaxPayload+1), decode.TooLarge},
	} {
		got := NewHost(wanted()).Take("spBv1.0/shop/NDATA/kettle", c.body, false)
		if decode.ClassOf(got.Err) != c.class || got.Err.Error() == "" {
			t.Errorf("%s: %v", name, got.Err)
		}
	}
}

func TestATimeThatCannotBe(t *testing.T) {
	m := appendNumber(number("room", 5), 3, math.MaxUint64)
	got := NewHost(wanted()).Take("spBv1.0/shop/NDATA/kettle", message(1, m), false)
	if len(got.Values) != 1 || got.Values[0].TimeWrong == "" || !got.Values[0].Time.IsZero() {
		t.Errorf("%+v", got)
	}
}

// What a birth leaves behind is bounded by what is wanted, and the aliases.
func TestABirthLeavesLittle(t *testing.T) {
	h := NewHost(wanted())
	metrics := make([][]byte, maxMetrics)
	for i := range metrics {
		metrics[i] = appendNumber(number(fmt.Sprintf("metric %d", i), 1), 2, uint64(i))
	}
	h.Take("spBv1.0/shop/NBIRTH/kettle", message(0, metrics...), false)
	m := h.nodes[Source{Group: "shop", Node: "kettle"}].members[""]
	if len(m.names)+len(m.facts) > 0 || len(m.aliases) != maxMetrics || !slices.IsSorted(m.aliases) {
		t.Errorf("%d names, %d facts, %d aliases", len(m.names), len(m.facts), len(m.aliases))
	}
}

// number is a metric with an int_value.
func number(name string, v uint64) []byte {
	b := protowire.AppendString(protowire.AppendTag(nil, 1, protowire.BytesType), name)
	return appendNumber(b, 10, v)
}

// message is a payload; a seq of MaxUint64 leaves it out.
func message(seq uint64, metrics ...[]byte) []byte {
	var b []byte
	for _, m := range metrics {
		b = protowire.AppendBytes(protowire.AppendTag(b, 2, protowire.BytesType), m)
	}
	if seq != math.MaxUint64 {
		b = appendNumber(b, 3, seq)
	}
	return b
}

// Null and a bad quality go before a value that is there all the same.
func TestWhatIsMarkedIsNoValue(t *testing.T) {
	marked := func(code uint64) []byte {
		set := protowire.AppendString(protowire.AppendTag(nil, 1, protowire.BytesType), "Quality")
		set = protowire.AppendBytes(protowire.AppendTag(set, 2, protowire.BytesType), appendNumber(nil, 3, code))
		return protowire.AppendBytes(protowire.AppendTag(number("room", 5), 9, protowire.BytesType), set)
	}
	for want, m := range map[string][]byte{
		`metric "room" is null`:                                    appendNumber(number("room", 5), 7, 1),
		`metric "room" is marked stale by its node`:                marked(500),
		`metric "room" is marked bad by its node (quality 0)`:      marked(0),
		`metric "room" has no value`:                               protowire.AppendString(protowire.AppendTag(nil, 1, protowire.BytesType), "room"),
		`metric "room" is a time, not a measurement`:               appendNumber(number("room", 5), 4, typeDateTime),
		`metric "room" is 5e+09, beyond anything a probe measures`: number("room", 5e9),
	} {
		got := NewHost(wanted()).Take("spBv1.0/shop/NDATA/kettle", message(1, m), false)
		if len(got.Values) != 1 || got.Values[0].Err == nil || got.Values[0].Err.Error() != want {
			t.Errorf("%+v, want %s", got.Values, want)
		}
	}
}

func TestWhatAMessageHoldsInWords(t *testing.T) {
	text := protowire.AppendString(protowire.AppendTag(protowire.AppendString(protowire.AppendTag(nil, 1, protowire.BytesType), "lid"), 15, protowire.BytesType), "open")
	for want, body := range map[string][]byte{
		`Sparkplug B: protocol = "sparkplug", topic = "shop/kettle/probes", metric = one of "core" (54), "lid" ("open"), alias 7 (5), "gone" (no number)`: message(1, number("core", 54), text, appendNumber(appendNumber(nil, 2, 7), 10, 5), appendNumber(number("gone", 1), 7, 1)),
		"payload is not Sparkplug B: message: unexpected EOF": []byte("rubbish"),
	} {
		if got, ok := Show("spBv1.0/shop/DDATA/kettle/probes", body); got != want || !ok {
			t.Errorf("got %s\nwant %s", got, want)
		}
	}
	if _, ok := Show("shop/kettle", nil); ok {
		t.Error("a topic of another kind is shown")
	}
	many := make([][]byte, 30)
	for i := range many {
		many[i] = number(fmt.Sprint(i), 1)
	}
	if got, _ := Show("spBv1.0/shop/NBIRTH/kettle", message(0, many...)); !strings.HasSuffix(got, `"11" (1), and 18 more`) {
		t.Error(got)
	}
}

package sparkplug

import (
	"encoding/hex"
	"math"
	"testing"
	"time"

	"flitch/ingest/decode"
	"flitch/testdata/published"
)

// FuzzHost: no two messages make the host panic, hand out something that is no number
// of a wanted metric, or remember more than a birth may leave.
func FuzzHost(f *testing.F) {
	table, err := published.Read("sparkplug_messages.csv")
	if err != nil {
		f.Fatal(err)
	}
	before := []byte{}
	for _, row := range table.Rows {
		body, err := hex.DecodeString(row.Text(f, "payload"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(uint8(2), before, uint8(4), body)
		before = body
	}
	f.Add(uint8(0), Rebirth(time.UnixMilli(1)), uint8(1), []byte{0x12, 2, 0x4a, 0})
	topics := []string{"spBv1.0/shop/NBIRTH/kettle", "spBv1.0/shop/NDATA/kettle", "spBv1.0/shop/DBIRTH/kettle/probes", "spBv1.0/shop/NDEATH/kettle",
		"spBv1.0/shop/DDATA/kettle/probes", "spBv1.0/shop/DDEATH/kettle/probes", "spBv1.0/shop/DDATA/kettle/other"}
	f.Fuzz(func(t *testing.T, k1 uint8, b1 []byte, k2 uint8, b2 []byte) {
		h := NewHost(wanted())
		h.Take(topics[int(k1)%len(topics)], b1, false)
		got := h.Take(topics[int(k2)%len(topics)], b2, false)
		for _, v := range got.Values {
			if v.Err == nil && (math.IsNaN(v.Number) || math.Abs(v.Number) > decode.MaxValue) {
				t.Fatalf("%+v", v)
			}
			if v.Err != nil && (decode.ClassOf(v.Err) == decode.Unknown || v.Err.Error() == "") {
				t.Fatalf("a reason without words or class: %v", v.Err)
			}
		}
		if words, ok := Show(topics[int(k2)%len(topics)], b2); !ok || words == "" || len(words) > 4000 {
			t.Fatalf("in words: %q", words)
		}
		from, named := Read(topics[int(k2)%len(topics)], b2)
		for _, v := range named {
			if _, err := ParseSource(from); err != nil || v.Metric == "" || math.IsNaN(v.Number) || math.Abs(v.Number) > decode.MaxValue {
				t.Fatalf("to pick from, of %q: %+v, %v", from, v, err)
			}
		}
		if got.Rebirth != nil && got.Why == "" {
			t.Fatal("a birth is asked for without a reason")
		}
		for _, n := range h.nodes {
			for _, m := range n.members {
				if len(m.names) > maxMetrics || len(m.facts) > len(m.wanted) || len(m.aliases) > maxMetrics || len(n.members) != 2 {
					t.Fatalf("too much is kept: %d names, %d facts, %d aliases", len(m.names), len(m.facts), len(m.aliases))
				}
			}
		}
	})
}

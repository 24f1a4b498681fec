package ingest

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"

	"flitch/ingest/decode"
	"flitch/process"
)

// nestedPayload is the nested shape of testdata/payloads, with everything in it.
const nestedPayload = `{"Time":"2031-05-02T21:14:00Z","PROBE-1":{"Temperature":61.2},"AIR":{"Temperature":null,"Humidity":null},"TempUnit":"C"}`

// decodeLimit is what one core has to decode of the nested shape, messages/s.
const decodeLimit = 300_000

func prepared(b *testing.B, payload string, spec decode.Spec) (Message, []route) {
	b.Helper()
	d, err := newDirectory([]Mapping{{Topic: "t", Probe: process.PlacedProbe{Probe: "core-1", Placement: process.Core}, Spec: spec}})
	if err != nil {
		b.Fatal(err)
	}
	return Message{Topic: "t", Payload: []byte(payload)}, d.of("t")
}

// BenchmarkDecode is decode alone, on one core, by shape.
func BenchmarkDecode(b *testing.B) {
	for _, c := range []struct {
		name, payload string
		spec          decode.Spec
	}{
		{"bare", "3.9", decode.Spec{}},
		{"timed", `{"t":61.25,"at":1935515643250}`, decode.Spec{Value: "/t", Time: "/at", TimeFormat: "unix-ms"}},
		{"nested", nestedPayload, decode.Spec{Value: "/PROBE-1/Temperature", Time: "/Time", TimeFormat: "rfc3339"}},
		{"nested-unit", nestedPayload, decode.Spec{Value: "/PROBE-1/Temperature", Time: "/Time", TimeFormat: "rfc3339", UnitAt: "/TempUnit"}},
	} {
		b.Run(c.name, func(b *testing.B) {
			m, routes := prepared(b, c.payload, c.spec)
			b.ReportAllocs()
			for b.Loop() {
				decoded(m, routes)
			}
		})
	}
}

// BenchmarkNested prints how many messages of the nested shape one core decodes in a
// second, beside what is asked for and beside encoding/json alone. Rounds alternate, for a shared
// machine changes its pace.
func BenchmarkNested(b *testing.B) {
	m, routes := prepared(b, nestedPayload, decode.Spec{Value: "/PROBE-1/Temperature", Time: "/Time", TimeFormat: "rfc3339", UnitAt: "/TempUnit"})
	if it := decoded(m, routes); len(it.values) != 1 || it.values[0].sample.Value != 61.2 || it.values[0].sample.Device.IsZero() {
		b.Fatalf("%+v", it)
	}
	const round = 20_000
	rate := func(do func()) float64 {
		began := time.Now()
		for range round {
			do()
		}
		return round / time.Since(began).Seconds()
	}
	var ours, alone, ratios []float64
	for b.Loop() {
		our := rate(func() { decoded(m, routes) })
		raw := rate(func() {
			var v any
			if err := json.Unmarshal(m.Payload, &v); err != nil {
				b.Fatal(err)
			}
		})
		ours, alone, ratios = append(ours, our), append(alone, raw), append(ratios, our/raw)
	}
	middle := func(all []float64) float64 { slices.Sort(all); return all[len(all)/2] }
	fmt.Printf("bench decode_nested %.0f msg/s %d %.2f\n", middle(ours), decodeLimit, middle(ours)/decodeLimit)
	fmt.Printf("bench decode_nested_json %.0f msg/s %.0f %.2f\n", middle(ours), middle(alone), middle(ratios))
}

package ingest

import (
	"testing"

	"flitch/ingest/decode"
	"flitch/process"
)

func BenchmarkTake(b *testing.B) {
	p := process.PlacedProbe{Probe: "core-1", Placement: process.Core}
	nested := `{"Time":"2031-05-02T21:14:00Z","PROBE-1":{"Temperature":61.2},"AIR":{"Temperature":null,"Humidity":null},"TempUnit":"C"}`
	for _, c := range []struct {
		name, payload string
		m             Mapping
	}{
		{"bare", "3.9", Mapping{Topic: "t", Probe: p}},
		{"timed", `{"t":61.25,"at":1935515643250}`, Mapping{Topic: "t", Probe: p, Spec: decode.Spec{Value: "/t", Time: "/at", TimeFormat: "unix-ms"}}},
		{"nested", nested, Mapping{Topic: "t", Probe: p, Spec: decode.Spec{Value: "/PROBE-1/Temperature", Time: "/Time", TimeFormat: "rfc3339"}}},
	} {
		b.Run(c.name, func(b *testing.B) {
			d, err := newDirectory([]Mapping{c.m})
			if err != nil {
				b.Fatal(err)
			}
			m := Message{Topic: "t", Payload: []byte(c.payload)}
			b.ReportAllocs()
			for b.Loop() {
				decoded(m, d.of("t"))
			}
		})
	}
}

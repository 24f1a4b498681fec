package process

import (
	"testing"
	"time"
)

// BenchmarkStep is a cook with every clock running: one core and the chamber, a
// reading each second.
func BenchmarkStep(b *testing.B) {
	d := newDiary(&testing.T{})
	s := cook(d)
	at := noon.Add(s)
	found := make([]Finding, 0, 16)
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		at = at.Add(time.Second)
		probe, value := "core", 57.0+float64(n%20)/10
		if n%2 == 1 {
			probe, value = "chamber", 99.0+float64(n%30)/10
		}
		in := Input{Kind: InputReading, At: at, Reading: Reading{Probe: probe, Measured: at, Received: at, Value: value}}
		found = Step(d.batch, in, found[:0])
		n++
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
}

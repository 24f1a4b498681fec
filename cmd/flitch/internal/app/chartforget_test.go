package app

import (
	"testing"
	"time"

	"flitch/process"
	"flitch/process/chart"
)

// A batch whose chart was looked at while it was open, and never again once it was closed, is not
// kept for ever, with every reading of its probes from then on.
func TestTheChartOfAClosedBatchIsForgotten(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(raw)
	s.every(minute, 0, 10*minute, func(time.Duration) { s.read("slow", 4) })
	r := s.bench().reader
	look := func(id string) {
		t.Helper()
		if _, err := r.Chart(t.Context(), id, chart.View{Width: 600}); err != nil {
			t.Fatal(err)
		}
	}
	look("PS-02")
	s.must(process.Command{Kind: process.CommandClose, Text: "for the test"})
	next, err := resolve(s.cfg, Request{Plan: raw, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Fridge: "alder", Smoker: "kettle"})
	if err != nil {
		t.Fatal(err)
	}
	s.must(process.Command{Kind: process.CommandNew, Batch: "PS-03", New: &next})
	look("PS-03")
	if _, ok := r.chart.batches["PS-02"]; ok || len(r.chart.batches) != 1 {
		t.Errorf("%d are kept, the closed one: %v", len(r.chart.batches), ok)
	}
	look("PS-02") // as closed: an hour
	s.at(59 * minute)
	look("PS-03")
	if len(r.chart.batches) != 2 {
		t.Errorf("%d are kept, the closed one was looked at", len(r.chart.batches))
	}
	s.at(3 * time.Hour)
	look("PS-03")
	if len(r.chart.batches) != 1 {
		t.Errorf("%d are kept, nobody looked at the closed one for hours", len(r.chart.batches))
	}
}

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
	kept := len(r.chart.batches)
	s.at(2 * time.Hour)
	look("PS-03") // it is open and stays
	if _, ok := r.chart.batches["PS-02"]; ok || kept != 2 || len(r.chart.batches) != 1 {
		t.Errorf("%d were kept, then %d; the closed one is kept: %v", kept, len(r.chart.batches), ok)
	}
}

package app

import (
	"bytes"
	"strings"
	"testing"

	"flitch/process"
)

// A hand reading stands on the record with its instrument and its initials, in each form of
// it.
func TestAHandReadingKeepsItsInstrumentAndItsInitials(t *testing.T) {
	s := newShop(t)
	s.open()
	s.begin(cooked)
	s.enter(cooked, process.StageCook)
	s.at(hour)
	s.must(process.Command{Kind: process.CommandReading, By: "M.O.", Placement: process.Core, Pieces: []string{"A"}, Value: 61.5, Text: "with needle 2"})
	for _, format := range []string{"html", "csv", "json"} {
		var out bytes.Buffer
		if err := s.app.WriteRecord(t.Context(), "PS-02", format, &out); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"61.5", "M.O.", "with needle 2"} {
			if !strings.Contains(out.String(), want) {
				t.Errorf("%s: no %q", format, want)
			}
		}
	}
}

package engine

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/plans"
)

// B9: a probe that fails in ice is told at once, with what it read, its last good check
// and the batches since; a good check ends it. One that is overdue is told on its day.
func TestStoryOfBadIce(t *testing.T) {
	slow := process.PlacedProbe{Probe: "alder-slow", Place: "alder", Placement: process.Product, Interval: time.Minute, CheckEvery: 30 * 24 * time.Hour}
	place := process.NewPlace("alder", process.WhereFridge, []process.PlacedProbe{slow}, ten)
	policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "phone", Minimum: alerts.Tell}}}
	h := &doseHouse{House: NewHouse([]*process.Place{place}, alerts.Catalogue(alerts.Electric), policy), t: t, now: ten}
	plan, err := plans.BuiltIn("hot-smoked-fish")
	if err != nil {
		t.Fatal(err)
	}
	begin := func(id string) {
		c := process.Command{ID: id, Kind: process.CommandNew, Batch: id, By: "T.V.", At: h.now, Typed: h.now,
			New: &process.NewBatch{Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 500, ThicknessMM: 20}}, Probes: []process.PlacedProbe{slow}}}
		h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: c})
		c = process.Command{ID: id + "-close", Kind: process.CommandClose, Batch: id, By: "T.V.", At: h.now, Typed: h.now, Text: "x"}
		h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: c})
	}
	check := func(readC float64) {
		h.said++
		c := process.Command{ID: fmt.Sprint("check", h.said), Kind: process.CommandChecked, By: "M.O.", At: h.now, Typed: h.now,
			Check: &process.CheckSaid{Probe: "alder-slow", Method: process.CheckIce, ReadC: readC}}
		h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: c})
	}
	day := func() {
		h.now = h.now.Add(24 * time.Hour)
		h.take(process.Input{Kind: process.InputReading, At: h.now, Reading: process.Reading{Probe: "alder-slow", Measured: h.now, Received: h.now, Value: 3}})
		h.take(process.Input{Kind: process.InputTick, At: h.now})
	}
	begin("OL-1")
	day()
	check(0.2)
	begin("OL-2")
	begin("OL-3")
	day()
	check(2.78)
	if len(h.told) != 1 || h.told[0].Entry != "B9" || h.told[0].Level != alerts.Tell {
		t.Fatalf("told %+v", h.told)
	}
	for _, want := range []string{"It failed its check and is out of use", "Read 2.8 °C in ice, where it was 0.0 °C: out of use, not within 1.1 °C.",
		"Last good check: 2031-02-05 by M.O.\n", "Batches since, each to be reviewed: OL-2, OL-3.", "Do first: Ice bath"} {
		if !strings.Contains(h.told[0].Body, want) {
			t.Errorf("the message does not say %q:\n%s", want, h.told[0].Body)
		}
	}
	if want := "B9 raised, probe alder-slow of fridge alder, tell: Check this probe (it failed its check and is out of use)"; !strings.Contains(h.journal(), want) {
		t.Errorf("the journal does not say %q:\n%s", want, h.journal())
	}
	of := map[string]int{}
	for _, l := range h.line {
		if l.Kind == "checked" && strings.Contains(l.Text, "2.8 °C") {
			of[l.Batch]++
		}
	}
	if of[""] != 1 || of["OL-2"] != 1 || of["OL-3"] != 1 || of["OL-1"] != 0 {
		t.Errorf("the journal has the failed check for %v", of)
	}
	check(0.1)
	if n := len(h.told); n != 2 || h.told[1].Kind != alerts.Cleared {
		t.Fatalf("after a good check told %+v", h.told[1:])
	}
	for range 29 {
		day()
	}
	if len(h.told) != 2 {
		t.Fatalf("told before its day: %+v", h.told[2:])
	}
	day()
	if len(h.told) != 3 || h.told[2].Entry != "B9" || !strings.Contains(h.told[2].Body, "Its check was due today") || !strings.Contains(h.told[2].Body, "Last good check: 2031-02-06 by M.O.") {
		t.Errorf("on its day told %+v", h.told[2:])
	}
	if err := h.checkProbe(process.Command{By: "T.V.", Check: &process.CheckSaid{Probe: "birch", Method: process.CheckIce}}); err == nil || !strings.Contains(err.Error(), "the probes are alder-slow") {
		t.Errorf("a probe that is not here: %v", err)
	}
}

package engine

import (
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/plans"
)

// A child turns the sensor over. Nobody is rung for a hot fridge; after half an hour the
// phone says what was seen and what to type, and the answer counts what was left out.
func TestStoryOfTheTurnedSensor(t *testing.T) {
	slow := process.PlacedProbe{Probe: "alder-slow", Place: "alder", Placement: process.Product, Interval: 5 * time.Minute}
	place := process.NewPlace("alder", process.WhereFridge, []process.PlacedProbe{slow}, ten)
	policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "phone", Minimum: alerts.Tell}}}
	h := &doseHouse{House: NewHouse([]*process.Place{place}, alerts.Catalogue(alerts.Electric), policy), t: t, now: ten}
	plan, err := plans.BuiltIn("belly-dry-cured")
	if err != nil {
		t.Fatal(err)
	}
	plan.Turn.EveryHours = 0
	begin := func(id string) {
		c := process.Command{ID: id, Kind: process.CommandNew, Batch: id, By: "T.V.", At: h.now, Typed: h.now,
			New: &process.NewBatch{Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}}, Probes: []process.PlacedProbe{slow}}}
		h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: h.Complete(c)})
	}
	minutes := func(n int, value func(minute int) float64) {
		for m := range n {
			h.now = h.now.Add(time.Minute)
			if m%5 == 4 {
				h.take(process.Input{Kind: process.InputReading, At: h.now, Reading: process.Reading{Probe: "alder-slow", Measured: h.now, Received: h.now, Value: value(m)}})
			}
			h.take(process.Input{Kind: process.InputTick, At: h.now})
		}
	}
	begin("OL-1")
	minutes(120, func(m int) float64 { return 3.8 + 0.1*float64(m%3) })
	minutes(60, func(m int) float64 { return 38.8 + 0.1*float64(m%3) })
	begin("OL-2") // while it is asked
	minutes(10, func(m int) float64 { return 38.9 })
	var entries []string
	for _, m := range h.told {
		entries = append(entries, m.Entry)
	}
	if strings.Join(entries, " ") != "B2" {
		t.Fatalf("told %v", entries)
	}
	for _, want := range []string{"It read 4.0 °C, and now 39.0 °C: the step that another unit makes.", "flitch probe unit alder-slow F, or flitch probe unit alder-slow C"} {
		if !strings.Contains(h.told[0].Body, want) {
			t.Errorf("the message does not say %q:\n%s", want, h.told[0].Body)
		}
	}
	c := process.Command{ID: "unit", Kind: process.CommandUnit, By: "M.O.", At: h.now, Typed: h.now, Unit: &process.UnitSaid{Probe: "alder-slow", Unit: "F"}}
	for _, bad := range []process.Command{{By: "M.O."}, {By: "M.O.", Unit: &process.UnitSaid{Probe: "birch", Unit: "F"}}, {By: "M.O.", Unit: &process.UnitSaid{Probe: "alder-slow", Unit: "K"}}} {
		if err := h.checkUnit(bad); err == nil {
			t.Errorf("%+v was taken", bad.Unit)
		}
	}
	if err := h.checkUnit(c); err != nil {
		t.Fatal(err)
	}
	c = h.Complete(c)
	if want := ten.Add(125 * time.Minute); !c.At.Equal(want) {
		t.Errorf("the answer counts from %s, want the step at %s", c.At, want)
	}
	h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: c})
	for _, id := range []string{"OL-1", "OL-2"} {
		if b := h.batch(id); !b.NeedsRecount {
			t.Errorf("%s is not to be counted anew", id)
		}
		if !strings.Contains(h.journal(), "probe alder-slow sends °F now: read as that from then on") {
			t.Errorf("the journal:\n%s", h.journal())
		}
	}
	minutes(60, func(m int) float64 { return 38.9 })
	if c1 := place.Probes[0].Last.Value; c1 < 3.7 || c1 > 4 {
		t.Errorf("the place reads %.1f °C", c1)
	}
	if n := len(h.told); n != 2 || h.told[1].Kind != alerts.Cleared {
		t.Errorf("then told %+v", h.told[1:])
	}
}

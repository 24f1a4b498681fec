package engine

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
)

// A fridge with a batch in it whose sensor says goodbye: told at once with the sensor's
// own words, rung after two hours, over after readings; and a sensor that asks.
func TestStoryOfASensorThatSaysGoodbye(t *testing.T) {
	slow := process.PlacedProbe{Probe: "alder-slow", Place: "alder", Placement: process.Product, Interval: time.Minute}
	place := process.NewPlace("alder", process.WhereFridge, []process.PlacedProbe{slow}, ten)
	policy := alerts.Policy{Channels: []alerts.ChannelPolicy{{Name: "phone", Minimum: alerts.Tell}}}
	h := &doseHouse{House: NewHouse([]*process.Place{place}, alerts.Catalogue(alerts.Electric), policy), t: t, now: ten}
	read := func(n int) {
		for range n {
			h.minutes(1)
			place.Occupied = true
			h.take(process.Input{Kind: process.InputReading, At: h.now, Reading: process.Reading{Probe: "alder-slow", Measured: h.now, Received: h.now, Value: 3.5}})
		}
	}
	word := func(w process.SensorWord) {
		h.said++
		w.Probe = "alder-slow"
		h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: process.Command{ID: fmt.Sprint(h.said), Kind: process.CommandSensor, By: "flitch", At: h.now, Typed: h.now, Sensor: &w}})
	}
	told := func() string {
		var kinds []string
		for _, m := range h.told {
			kinds = append(kinds, fmt.Sprintf("%s %s %s", m.Entry, m.Kind, m.Level))
		}
		h.told = nil
		return strings.Join(kinds, ", ")
	}
	read(10)
	if got := told(); got != "" {
		t.Errorf("while all is well told %s", got)
	}
	word(process.SensorWord{Gone: true, Words: "its connection broke (Homie $state lost)"})
	if len(h.told) != 1 || !strings.Contains(h.told[0].Body, "What was heard: its connection broke (Homie $state lost).") {
		t.Fatalf("%+v", h.told)
	}
	if got := told(); got != "B2g raised tell" {
		t.Errorf("at the word told %s", got)
	}
	h.minutes(110)
	if got := told(); strings.Contains(got, "worsened") || strings.Contains(got, "B2 ") {
		t.Errorf("before two hours told %s", got)
	}
	h.minutes(15)
	if got := told(); !strings.Contains(got, "B2g worsened ring") {
		t.Errorf("after two hours told %s", got)
	}
	read(20) // the silence hid behind it, and ends with it
	if got := told(); got != "B2g cleared tell" {
		t.Errorf("after readings told %s", got)
	}
	word(process.SensorWord{Asks: "Battery is low, at 8%"})
	if len(h.told) != 1 || !strings.Contains(h.told[0].Body, `It says: "Battery is low, at 8%".`) {
		t.Errorf("%+v", h.told)
	}
	if got := told(); got != "B4a raised tell" {
		t.Errorf("told %s", got)
	}
	word(process.SensorWord{})
	if got := told(); got != "B4a cleared tell" {
		t.Errorf("told %s", got)
	}
}

// A batch that begins with a probe that is gone knows it.
func TestAProbeThatWasGoneBeforeTheBatch(t *testing.T) {
	core := process.PlacedProbe{Probe: "core-1", Place: "kettle", Placement: process.Core, Piece: "A", Interval: time.Minute}
	other := core
	other.Probe = "core-2"
	h := newDoseHouse(t)
	h.places = []*process.Place{process.NewPlace("kettle", process.WhereSmoker, []process.PlacedProbe{core, other}, ten)}
	h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: process.Command{ID: "gone", Kind: process.CommandSensor, By: "flitch", At: h.now, Typed: h.now,
		Sensor: &process.SensorWord{Probe: "core-1", Gone: true, Words: "NDEATH"}}})
	b := h.open[0]
	c := process.Command{ID: "second", Kind: process.CommandNew, Batch: "OL-31-19", By: "T.V.", At: h.now, Typed: h.now,
		New: &process.NewBatch{Plan: b.Plan, Pieces: b.Pieces, Probes: []process.PlacedProbe{core, other}}}
	h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: c})
	second := h.batch("OL-31-19")
	if second == nil || !second.Tracks[0].Absent.Lasts() || second.Tracks[1].Absent != nil {
		t.Errorf("%+v", second)
	}
}

// Late data make a batch be computed anew; that its probe is gone is not forgotten.
func TestARecountKeepsWhoIsGone(t *testing.T) {
	h := newDoseHouse(t)
	b := h.open[0]
	core := process.PlacedProbe{Probe: "core-1", Place: "kettle", Placement: process.Core, Piece: "A", Interval: time.Minute}
	c := process.Command{ID: "new", Kind: process.CommandNew, Batch: b.ID, By: "T.V.", At: h.now, Typed: h.now,
		New: &process.NewBatch{Plan: b.Plan, Pieces: b.Pieces, Probes: []process.PlacedProbe{core}}}
	start := process.Input{Seq: 1, Kind: process.InputCommand, At: h.now, Command: c}
	h.replace(process.Start(start))
	h.take(process.Input{Kind: process.InputCommand, At: h.now, Command: process.Command{ID: "gone", Kind: process.CommandSensor, By: "flitch", At: h.now, Typed: h.now,
		Sensor: &process.SensorWord{Probe: "core-1", Gone: true, Words: "DDEATH"}}})
	if h.open[0].Tracks[0].Absent == nil {
		t.Fatal("not gone")
	}
	h.Recount(h.open[0], start, slices.Values([]process.Input{}))
	if a := h.open[0].Tracks[0].Absent; a == nil || a.Words != "DDEATH" {
		t.Errorf("after a recount %+v", a)
	}
}

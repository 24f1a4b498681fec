package engine

import (
	"errors"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/plans"
)

func twoFridges(t *testing.T, changes map[string][]alerts.Change) *House {
	t.Helper()
	var places []*process.Place
	for _, name := range []string{"alder", "birch"} {
		places = append(places, process.NewPlace(name, process.WhereFridge, []process.PlacedProbe{{Probe: name + "-slow", Place: name, Placement: process.Product, Interval: time.Minute}}, ten))
	}
	h := NewHouse(places, alerts.Catalogue(alerts.Wood), alerts.Policy{})
	if err := h.ChangePlaces(changes); err != nil {
		t.Fatal(err)
	}
	return h
}

// A fridge with limits of its own rings by them, and its neighbour by the catalogue's.
func TestAPlaceChangesItsAlarms(t *testing.T) {
	limit, after := 6.0, 45*time.Minute
	h := twoFridges(t, map[string][]alerts.Change{"fridge alder": {{ID: "C1", Limit: &limit}, {ID: "C1", After: &after}}})
	raised := map[string]time.Duration{}
	for m := time.Duration(0); m <= 100*time.Minute; m += time.Minute {
		for probe, v := range map[string]float64{"alder-slow": 5 + m.Hours(), "birch-slow": 5} { // alder is at 6 °C after an hour
			at := ten.Add(m)
			h.Take(process.Input{Kind: process.InputReading, At: at, Reading: process.Reading{Probe: probe, Measured: at, Received: at, Value: v}})
		}
		_, alarms := h.Happened()
		for _, o := range alarms {
			if _, known := raised[o.Subject]; !known && o.Entry == "C1" {
				raised[o.Subject] = o.RaisedAt.Sub(ten)
			}
		}
	}
	if raised["fridge birch"] != 30*time.Minute || raised["fridge alder"] != 0 {
		t.Errorf("raised after %v; alder is over its limit for 40 min only", raised)
	}
}

// A plan changes the alarms about its batch, over what the place of the batch changes.
func TestAPlanChangesItsAlarms(t *testing.T) {
	place, own, clears := 60.0, 20.0, 10.0
	h := twoFridges(t, map[string][]alerts.Change{"fridge alder": {{ID: "H5", Limit: &place}, {ID: "H6", Level: "note"}}})
	plan, err := plans.BuiltIn("belly-dry-cured")
	if err != nil {
		t.Fatal(err)
	}
	plan.Alarms = []process.AlarmChange{{ID: "H5", Limit: &own, Clears: &clears, AfterMin: &clears}}
	if err := h.checkChanges(plan); err != nil {
		t.Fatal(err)
	}
	b := process.NewBatch{Plan: plan, Pieces: []process.Piece{{Name: "A", GreenG: 2268, ThicknessMM: 38}},
		Probes: []process.PlacedProbe{{Probe: "alder-slow", Place: "alder", Placement: process.Product, Interval: time.Minute, Uncertainty: 0.5}}}
	h.Take(process.Input{Kind: process.InputCommand, At: ten, Command: process.Command{ID: "1", Kind: process.CommandNew, Batch: "OL-1", By: "T.V.", At: ten, Typed: ten, New: &b}})
	for key, want := range map[alarmKey]float64{{"H5", "batch OL-1"}: 20, {"H5", "batch OL-2"}: 45, {"H5", "probe core-1 of batch OL-1"}: 20} {
		if e, _ := h.board.entry(key); e.Triggers[0].Limit != want {
			t.Errorf("%v: limit %g, want %g", key, e.Triggers[0].Limit, want)
		}
	}
	if e, _ := h.board.entry(alarmKey{"H6", "batch OL-1"}); e.Triggers[0].Level != alerts.Note {
		t.Errorf("the place of the batch asked for a note: %+v", e.Triggers)
	}
	for _, bad := range []process.AlarmChange{{ID: "H77"}, {ID: "H5", Trigger: 4}, {ID: "H5", Level: "loud"}} {
		plan.Alarms = []process.AlarmChange{bad}
		var refused *process.Refusal
		if err := h.checkChanges(plan); !errors.As(err, &refused) || !strings.Contains(refused.What, "belly-dry-cured") || refused.Hint == "" {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

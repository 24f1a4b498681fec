package store

import (
	"slices"
	"testing"
	"time"
)

func TestVitalsAreKeptUntilTheyAreForgotten(t *testing.T) {
	db := newDB(t)
	at := time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)
	all := []Vital{{"core", "battery", at, 2.91}, {"slow", "battery", at, 22}, {"slow", "battery", at.Add(time.Hour), 21}, {"slow", "signal", at, -71}}
	for _, v := range append(slices.Clone(all), all[0]) { // the same twice is one
		if err := db.KeepVital(v); err != nil {
			t.Fatal(err)
		}
	}
	if got := must[[]Vital](t)(db.Vitals()); !slices.Equal(got, all) {
		t.Errorf("kept %v", got)
	}
	if err := db.ForgetVitals("slow", "battery", at); err != nil {
		t.Fatal(err)
	}
	if got := must[[]Vital](t)(db.Vitals()); !slices.Equal(got, slices.Delete(slices.Clone(all), 1, 2)) {
		t.Errorf("left %v", got)
	}
}

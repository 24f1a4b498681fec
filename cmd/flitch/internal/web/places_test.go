package web

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

func houseWithPlaces() *house {
	h := houseWithProbes()
	seen := func(i int, t process.PlaceProbe) PlaceProbe { return SeePlaceProbe(h.probes[i], &t, night) }
	track := func(placement process.Placement, v float64, ago time.Duration) process.PlaceProbe {
		return process.PlaceProbe{Probe: process.PlacedProbe{Placement: placement, Interval: time.Minute}, Last: process.Sample{At: night.Add(-ago), Value: v}}
	}
	h.probes[0].Heard, h.probes[1].Heard, h.probes[2].Heard = night.Add(-time.Minute), night.Add(-3*time.Hour), night
	h.probes[1].Battery = &process.KnownVital{Vital: process.Vital{Probe: "slow", Kind: process.VitalBattery, Value: 9, Low: 15, Unit: "%"}, At: night}
	slow := track(process.Product, 3, 3*time.Hour)
	slow.Flagged = []process.Flagged{{Reason: "flat", Count: 7, Last: night, Open: true, Spans: []process.Gap{{From: night.Add(-time.Hour), To: night}}}, {Reason: "spike", Count: 1, Last: night}}
	slow.BadClock, slow.Absent = true, &process.Absence{At: night, Words: "last will"}
	h.places = []Place{
		{Name: "alder", Title: "Alder & sons", Kind: process.WhereFridge, Batches: []string{"OL-31-09"}, Probes: []PlaceProbe{seen(1, slow), seen(2, track(process.Humidity, 71, 0))}},
		{Name: "old-kettle", Title: "old-kettle", Kind: process.WhereSmoker, Probes: []PlaceProbe{seen(0, track(process.Core, 61.5, time.Minute))}},
		{Name: "shed", Title: "shed", Kind: process.WhereRoom},
	}
	h.heard = Heard{Topics: []HeardTopic{{Topic: "used", Values: []HeardValue{{Probe: "slow"}, {}}}, {Topic: "new", Values: []HeardValue{{}}}, {Topic: "odd"}}}
	return h
}

// Every place says what is in it and what of its probes is to be believed, and why not.
func TestThePlacesAsTheyStand(t *testing.T) {
	page := houseWithPlaces().page(t, record.Site{})
	w := get(t, page, "/places")
	if w.Code != http.StatusOK {
		t.Fatal(w.Code)
	}
	holds(t, w.Body.String(), "Alder &amp; sons", `href="/batches/OL-31-09"`, `href="/probes/slow"`, "<strong>OLD</strong>", "3 h 00 min ago", "3.0 °C",
		"doubtful: it failed its check", "doubtful: its device said that it is gone: last will", "doubtful: its clock is not believed", "doubtful: stood still",
		"7 left out, stood still", "<strong>LOW</strong> battery 9 %, limit 15 %", "71.0 %", "No batch is in it.", "61.5 °C", "Check overdue since", "No probe is here.",
		`href="/heard" data-key="heard">Heard by MQTT and not used: 2`, `href="/probes"`, `data-from="/places/now"`)
	if strings.Contains(w.Body.String(), "alone between") {
		t.Error("a spike that was followed by good readings is told of as if it stood")
	}
	part := get(t, page, "/places/now").Body.String()
	holds(t, part, "Alder &amp; sons", "data-now=", `data-since=`)
	if strings.Contains(part, "<html") {
		t.Error("the part that is swapped is a whole page")
	}
	holds(t, get(t, houseWithPlaces().page(t, record.Site{Fahrenheit: true}), "/places").Body.String(), "142.7 °F")
	for _, path := range []string{"/batches", "/probes", "/probes/slow"} {
		holds(t, get(t, page, path).Body.String(), `href="/places"`)
	}
	broken := houseWithPlaces()
	broken.fault = http.ErrServerClosed
	for _, path := range []string{"/places", "/places/now"} {
		if w := get(t, broken.page(t, record.Site{}), path); w.Code != http.StatusInternalServerError {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
}

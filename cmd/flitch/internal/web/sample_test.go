package web

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/process"
	"flitch/process/record"
)

// night is 03:31 in Berlin, winter time.
var night = time.Date(2026, 11, 18, 2, 31, 0, 0, time.UTC)

// A house is a fake of everything behind the page.
type house struct {
	heard   Heard
	glances []Glance
	alarms  []Alarm
	batches []Summary
	night   Night
	probes  []Probe
	places  []Place
	charts  Charts
	papers  []BatchPapers
	photos  map[string][]byte
	work    Work
	address string // configured for links
	like    NewRequest
	beside  []Compared
	entries []record.Entry
	fault   error // of every read

	said   []process.Command
	answer error // of every command
}

func (h *house) Do(_ context.Context, c process.Command) error {
	h.said = append(h.said, c)
	return h.answer
}
func (h *house) Glances(context.Context) ([]Glance, error)  { return h.glances, h.fault }
func (h *house) Alarms(context.Context) ([]Alarm, error)    { return h.alarms, h.fault }
func (h *house) Batches(context.Context) ([]Summary, error) { return h.batches, h.fault }
func (h *house) Heard(context.Context) (Heard, error)       { return h.heard, h.fault }
func (h *house) Night(context.Context) (Night, error)       { return h.night, h.fault }
func (h *house) Probes(context.Context) ([]Probe, error)    { return h.probes, h.fault }
func (h *house) Places(context.Context) ([]Place, error)    { return h.places, h.fault }
func (h *house) Charts(_ context.Context, id string) (Charts, error) {
	if id != h.charts.Batch {
		return Charts{}, &process.Refusal{What: "there is no batch " + id, NotFound: true}
	}
	return h.charts, h.fault
}
func (h *house) Now() time.Time { return night }

func (h *house) page(t *testing.T, site record.Site) http.Handler {
	t.Helper()
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	if site.Zone == nil {
		site.Zone = zone
	}
	site.Name = "Oddwick Lane Larder"
	n := 0
	return New(Deps{Site: site, Reader: h, Commander: h, Papers: h, Batches: h, Clock: h, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		NewID: func() string { n++; return fmt.Sprint("id", n) }})
}

func sampleHouse() *house {
	alarm := Alarm{Occurrence: alerts.Occurrence{Number: 7, Entry: "H3", Title: "Smoker cold", Subject: "smoker old-kettle", Unit: "K", Level: alerts.Ring,
		Since: night.Add(-40 * time.Minute), RaisedAt: night.Add(-20 * time.Minute), Active: true, Value: 22, Worst: 24, Limit: 17}, LevelName: "ring", Action: "Relight, or reset the breaker."}
	over := alarm
	over.Number, over.Active, over.ClearedAt, over.AcknowledgedAt, over.AcknowledgedBy = 5, false, night.Add(-24*time.Hour), night.Add(-25*time.Hour), "MO"
	return &house{
		glances: []Glance{sampleGlance(alarm)},
		alarms:  []Alarm{alarm, over},
		batches: []Summary{{ID: "OL-31-09", Product: "Belly"}, {ID: "OL-31-04", Product: "Belly", Started: night.AddDate(0, 0, -20), Closed: night.AddDate(0, 0, -10)}},
	}
}

func sampleGlance(open Alarm) Glance {
	fresh := Number{Known: true, C: 49.4, At: night.Add(-14 * time.Second), HasRate: true, Rate: -1.9}
	return Glance{
		Batch: "OL-31-09", Product: "Dry-cured belly bacon", Class: process.NotFullyCooked, Pieces: []string{"A", "B"}, At: night,
		State: Now, Since: night.Add(-20 * time.Minute), Why: "Smoker cold",
		Slowest:   &Slab{Piece: "B", Core: fresh, HasTarget: true, TargetC: 61},
		Chamber:   &Chamber{Place: "old-kettle", Air: Number{Known: true, C: 43.2, At: night.Add(-9 * time.Second), HasRate: true, Rate: -62}, SetC: 82},
		Forecasts: []Forecast{{What: "core reaches 61.0 °C", At: night.Add(100 * time.Minute), Give: 40 * time.Minute, Warn: true}},
		Stage:     Stage{Name: process.StageSmoke, Entered: night.Add(-6 * time.Hour), Ends: "core at 61.0 °C", Prompt: "Add wood each hour.", Button: true, Heat: true, Next: process.StageRest},
		Next:      &Task{What: "Turn slabs A and B", By: night.Add(-30 * time.Minute), Kind: process.CommandTurned},
		Clocks: []process.Clock{
			{Name: process.ClockCure, Sum: 5.2, Limit: 5, Unit: "d", AtLeast: true, From: night.AddDate(0, 0, -6), Verdict: process.Met},
			{Name: process.ClockComeUp, Sum: 3.667, Limit: 6, Unit: "h", Running: true, Uncertain: []string{"no core readings from 01:00 to 01:50"}},
			{Name: process.ClockLethality, Verdict: process.NotMeasured}},
		Slabs:     []Slab{{Piece: "A", Core: Number{}}},
		Fridge:    &Fridge{Place: "alder", Product: Number{Known: true, C: 3.4, At: night.Add(-40 * time.Minute), Old: true}, AboveC: 4.4, AboveMin: 25, Today: &Today{AboveMin: 12}, LastTurn: night.Add(-20 * time.Hour), LastTurnBy: "TV", TurnsWanted: true},
		Wood:      &Wood{Last: night.Add(-50 * time.Minute), By: "TV", Ends: 100 * time.Minute},
		LastAlarm: &open, Alarms: []Alarm{open},
	}
}

func get(t *testing.T, h http.Handler, path string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

func post(t *testing.T, h http.Handler, path, form string) *httptest.ResponseRecorder {
	t.Helper()
	if _, err := url.ParseQuery(form); err != nil && !strings.Contains(form, "%zz") {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(form))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	h.ServeHTTP(w, r)
	return w
}

func (h *house) Entries(_ context.Context, id string) ([]record.Entry, error) {
	return h.entries, h.fault
}

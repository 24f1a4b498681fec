package api

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/cmd/flitch/internal/web"
	"flitch/process"
	"flitch/process/chart"
	"flitch/process/record"
	"flitch/process/series"
)

var night = time.Date(2026, 11, 18, 2, 31, 0, 0, time.UTC)

// A house is a fake of everything behind the door.
type house struct {
	mu     sync.Mutex
	said   []process.Command
	asked  []chart.View
	answer error // of every command
	fault  error // of every read
	torn   error // of the readings, after the first
	faults []Fault
	photos int
}

func (h *house) Now() time.Time                         { return night }
func (h *house) After(d time.Duration) <-chan time.Time { return time.After(d) }

func (h *house) Do(_ context.Context, c process.Command) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.said = append(h.said, c)
	return h.answer
}

func (h *house) Glances(context.Context) ([]web.Glance, error) {
	return []web.Glance{{Batch: "OL-31-09", Class: process.NotFullyCooked, State: web.Fine, Stage: web.Stage{Name: process.StageCure}, At: night}}, h.fault
}
func (h *house) Alarms(context.Context) ([]web.Alarm, error) {
	return []web.Alarm{{Occurrence: alerts.Occurrence{Number: 7, Level: alerts.Ring}, LevelName: "ring"}}, h.fault
}
func (h *house) Heard(context.Context) (web.Heard, error) {
	return web.Heard{Topics: []web.HeardTopic{{Topic: "shed/box"}}}, h.fault
}
func (h *house) Night(context.Context) (web.Night, error)       { return web.Night{}, h.fault }
func (h *house) Batches(context.Context) ([]web.Summary, error) { return nil, h.fault }

func (h *house) find(id string) error {
	if id != "OL-31-09" {
		return &process.Refusal{What: "there is no batch " + id, Hint: "list them with GET /api/batches", NotFound: true}
	}
	return h.fault
}

func (h *house) Papers(_ context.Context, id, about string) (web.BatchPapers, error) {
	return web.BatchPapers{Ready: process.ActionSaid{About: about, Cause: "Product sensor over 5.0 °C. Cause: __."}}, h.find(id)
}

func (h *house) NoteWithPhoto(ctx context.Context, c process.Command, jpeg []byte) error {
	h.photos++
	return h.Do(ctx, c)
}

func (h *house) Photo(context.Context, string, string) ([]byte, error) { return nil, h.fault }

func (h *house) Probes(context.Context) ([]Probe, error) {
	return []Probe{{Probe: "needle-1", Place: "kettle", Placement: process.Core}}, h.fault
}

func (h *house) Places(context.Context) ([]web.Place, error) {
	return []web.Place{{Name: "kettle", Kind: process.WhereSmoker}}, h.fault
}

func (h *house) Batch(_ context.Context, id string) (Batch, error) {
	return Batch{Summary: web.Summary{ID: id, Stage: process.StageCure}, By: "TV", Class: process.NotFullyCooked}, h.find(id)
}

func (h *house) Charts(_ context.Context, id string) (web.Charts, error) {
	return web.Charts{Batch: id}, h.find(id)
}

func (h *house) Chart(_ context.Context, id string, view chart.View) (chart.Temperatures, error) {
	h.asked = append(h.asked, view)
	if err := h.find(id); err != nil {
		return chart.Temperatures{}, err
	}
	readings := new(series.Series)
	for i := range 2000 {
		readings.Add(night.Add(time.Duration(i-2000)*time.Minute), 40+float64(i%7))
	}
	view.To = night
	view.From = night.Add(-48 * time.Hour)
	return chart.Temperatures{Batch: id, View: view, Lines: []chart.Line{{Probe: "needle-1", Placement: process.Core, Piece: "A", Readings: readings}}}, nil
}

func (h *house) Drawing(_ context.Context, id, kind string, width int) (chart.Drawing, error) {
	if err := h.find(id); err != nil {
		return nil, err
	}
	if kind != "cure" {
		return nil, &process.Refusal{What: "there is nothing to draw of the " + kind, NotFound: true}
	}
	mid := []float64{1, 0.5, 1}
	return chart.Profile{Title: "cure", ThicknessMM: 38, Through: 0.9, Curves: []chart.Curve{{Name: "now", Mid: mid, Low: mid, High: mid}}, Width: width}, nil
}

func (h *house) Proof(_ context.Context, id string, w io.Writer) error {
	if _, err := h.Record(context.Background(), id); err != nil {
		return err
	}
	_, err := io.WriteString(w, "proof of "+id)
	return err
}

func (h *house) Record(_ context.Context, id string) (*record.Record, error) {
	if err := h.find(id); err != nil {
		return nil, err
	}
	return &record.Record{
		MadeAt: night,
		Head:   record.Head{Batch: id, Started: night.Add(-48 * time.Hour)},
		Readings: func(yield func(record.Row) error) error {
			for i := range 2000 {
				at := night.Add(time.Duration(i-2000) * time.Minute)
				err := yield(record.Row{Measured: at, Received: at, Batch: id, Probe: "needle-1", Placement: process.Core, Piece: "A", Value: 40, Source: record.Measured})
				if err != nil {
					return err
				}
			}
			return h.torn
		},
	}, nil
}

func (h *house) Choices(context.Context) (web.Choices, error) { return web.Choices{}, h.fault }

func (h *house) Like(_ context.Context, id string) (NewRequest, error) {
	return NewRequest{Plan: "belly", Fridge: "alder"}, h.find(id)
}

func (h *house) Work(_ context.Context, id string) (web.Work, error) {
	return web.Work{Summary: web.Summary{ID: id}}, h.find(id)
}

func (h *house) Compare(context.Context, []string) ([]web.Compared, error) { return nil, h.fault }

func (h *house) Resolve(r NewRequest) (process.NewBatch, error) {
	if r.Plan != "belly" {
		return process.NewBatch{}, &process.Refusal{What: "there is no plan " + r.Plan, Hint: "known: belly"}
	}
	return process.NewBatch{Plan: process.Plan{Name: r.Plan}, Pieces: r.Pieces}, nil
}

func (h *house) deps() Deps {
	return Deps{
		Reader: h, Papers: h, Commander: h, Batches: h, Clock: h, Wall: h, Events: NewEvents(),
		Health: func(context.Context) []Fault { return h.faults },
		NewID:  func() string { return "new-id" }, Hosts: []string{"larder.local:8080", "192.0.2.7"},
		Page: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "page "+r.URL.Path) }),
		Log:  slog.New(slog.NewTextHandler(io.Discard, nil)),
	}
}

func request(method, path, body string) *http.Request {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Host = "localhost:8080"
	return r
}

func ask(t *testing.T, h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if err := theBook(t).Answer(r, w.Code, w.Header(), w.Body.Bytes()); err != nil {
		t.Error(err)
	}
	return w
}

// noImport takes nothing out of files.
type noImport struct{}

func (noImport) ImportRows(context.Context, ImportRows) (Imported, error) {
	return Imported{}, &process.Refusal{What: "not here"}
}
func (noImport) ImportDone(context.Context, ImportDone) (Noted, error) {
	return Noted{}, &process.Refusal{What: "not here"}
}

// anyPlan takes every plan.
type anyPlan struct{ *house }

func (anyPlan) Resolve(r NewRequest) (process.NewBatch, error) {
	return process.NewBatch{Plan: process.Plan{Name: r.Plan}, Pieces: r.Pieces}, nil
}

var errDisk = errors.New("disk gone")

func (h *house) Entries(_ context.Context, id string) ([]record.Entry, error) {
	return nil, h.find(id)
}

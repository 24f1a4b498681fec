package api

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"testing"

	"flitch/process"
)

func TestABatchLikeAnother(t *testing.T) {
	h := &house{}
	door := New(h.deps())
	w := httptest.NewRecorder()
	door.ServeHTTP(w, request(http.MethodGet, "/api/batches/OL-31-09/like", ""))
	var like NewRequest
	if err := json.Unmarshal(w.Body.Bytes(), &like); err != nil || w.Code != http.StatusOK || like.Plan != "belly" || like.Fridge != "alder" {
		t.Errorf("%d %s, %v", w.Code, w.Body, err)
	}
	w = httptest.NewRecorder()
	door.ServeHTTP(w, request(http.MethodGet, "/api/batches/nothing/like", ""))
	if w.Code != http.StatusNotFound {
		t.Errorf("status %d for a batch that is not there", w.Code)
	}
}

func TestWeightsAndCountsAreCommands(t *testing.T) {
	h := &house{}
	door := New(h.deps())
	for _, body := range []string{
		`{"kind":"weighed","batch":"OL-31-09","by":"TV","rung":"after-smoke","weights":[{"piece":"A","g":1890},{"piece":"B","g":1905}]}`,
		`{"kind":"counted","batch":"OL-31-09","by":"TV","way":"out","stage":"smoke","value":2}`,
	} {
		w := httptest.NewRecorder()
		door.ServeHTTP(w, request(http.MethodPost, "/api/commands", body))
		if w.Code != http.StatusOK {
			t.Fatalf("%s: %d %s", body, w.Code, w.Body)
		}
	}
	if c := h.said[0]; c.Rung != process.RungSmoke || len(c.Weights) != 2 || c.Weights[1].Grams != 1905 {
		t.Errorf("said %+v", c)
	}
	if c := h.said[1]; c.Way != process.WayOut || c.Stage != process.StageSmoke || c.Value != 2 {
		t.Errorf("said %+v", c)
	}
}

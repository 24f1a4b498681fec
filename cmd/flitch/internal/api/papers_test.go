package api

import (
	"bytes"
	"image"
	"image/png"
	"net/http"
	"strings"
	"testing"
	"time"

	"flitch/process"
)

func TestPapersAreSaid(t *testing.T) {
	for _, c := range []struct {
		body, want string
		is         func(process.Command) bool
	}{
		{`{"kind":"corrective-action","batch":"OL-31-09","by":"TV","action":{"about":"C2","cause":"ash","product":"held __"}}`, "stays open without under control, prevention, product",
			func(c process.Command) bool { return c.Action.About == "C2" && c.Action.Cause == "ash" }},
		{`{"kind":"disposition","batch":"OL-31-09","by":"TV","disposition":"hold for advice","pieces":["A"],"text":"warm"}`, "hold for advice, said TV",
			func(c process.Command) bool {
				return c.Disposition == process.HoldForAdvice && c.Pieces[0] == "A" && c.Text == "warm"
			}},
		{`{"kind":"reviewed","batch":"OL-31-09","by":"MO"}`, "reviewed entered by MO", func(c process.Command) bool { return c.By == "MO" }},
	} {
		h := &house{}
		w := ask(t, New(h.deps()), request(http.MethodPost, "/api/commands", c.body))
		if w.Code != 200 || !strings.Contains(w.Body.String(), c.want) || len(h.said) != 1 || !c.is(h.said[0]) {
			t.Errorf("%s: %d %s, %+v", c.body, w.Code, w.Body, h.said)
		}
	}
}

func TestAPictureIsSentWithItsNote(t *testing.T) {
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 40, 30))); err != nil {
		t.Fatal(err)
	}
	path := PhotoPath("/api/batches/OL-31-09", "x1", "TV", "the slice", night.Add(-time.Hour))
	h := &house{}
	w := ask(t, New(h.deps()), request(http.MethodPost, path, picture.String()))
	if w.Code != 200 || !strings.Contains(w.Body.String(), "with a photo of 40 by 30") || h.photos != 1 {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	if c := h.said[0]; c.ID != "x1" || c.Text != "the slice" || c.Photo.Width != 40 || !c.At.Equal(night.Add(-time.Hour)) || c.Batch != "OL-31-09" {
		t.Errorf("said %+v", c)
	}
	for body, want := range map[string]string{"": "empty", "hello": "no JPEG", strings.Repeat("x", 12<<20+1): "more than 12 MB"} {
		h := &house{}
		w := ask(t, New(h.deps()), request(http.MethodPost, path, body))
		if w.Code < 400 || w.Code > 499 || !strings.Contains(w.Body.String(), want) || len(h.said) != 0 {
			t.Errorf("%.20q: %d %s", body, w.Code, w.Body)
		}
	}
	if w := ask(t, New((&house{}).deps()), request(http.MethodPost, "/api/batches/OL-31-09/photos?by=TV&id="+strings.Repeat("x", 65), picture.String())); w.Code != 422 || !strings.Contains(w.Body.String(), "at most 64 bytes") {
		t.Errorf("a long id: %d %s", w.Code, w.Body)
	}
	for at, want := range map[string]string{"noon": "not a time", "0001-01-01T00:00:00Z": "the year 1 is not when"} {
		if w := ask(t, New((&house{}).deps()), request(http.MethodPost, "/api/batches/OL-31-09/photos?by=TV&at="+at, picture.String())); w.Code != 422 || !strings.Contains(w.Body.String(), want) {
			t.Errorf("%d %s", w.Code, w.Body)
		}
	}
}

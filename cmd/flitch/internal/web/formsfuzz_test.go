package web

import (
	"hash/crc32"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"flitch/process/record"
)

// forms are where the page sends what was typed.
var forms = []string{"/acknowledge", "/turned", "/stage", "/close", "/reading", "/note", "/unit", "/duty", "/shelve", "/judge", "/degrees", "/heard", "/decide", "/quiet", "/wood", "/strike",
	"/batches/OL-31-09/weigh", "/batches/OL-31-09/count", "/batches/OL-31-09/doses", "/batches/OL-31-09/taste", "/batches/OL-31-09/cost", "/batches/OL-31-09/entries/x",
	"/batches/OL-31-09/papers/note", "/batches/OL-31-09/papers/action", "/batches/OL-31-09/papers/close", "/batches/OL-31-09/papers/review", "/batches/OL-31-09/papers/disposition", "/probes/needle-1"}

// Whatever is sent to a form, it is answered without breaking, and nobody is led to another
// site. Four of five inputs are passed over: each goes through the whole page.
func FuzzForms(f *testing.F) {
	for i := range forms {
		f.Add(uint8(i), "batch=OL-31-09&by=TV&text=x&value=3,5&stage=rest&piece-0=A&weight-0=2kg&when=23%3A50&alarm=7&until=07%3A00&back=%2F")
	}
	f.Add(uint8(0), "by=&by=&%zz&back=//evil.example&to=https://evil.example")
	f.Add(uint8(16), strings.Repeat("weight-0=1e400&", 500))
	h := sampleHouse()
	page := New(Deps{Site: record.Site{Zone: time.UTC}, Reader: h, Commander: h, Papers: h, Batches: h, Clock: h, Log: slog.New(slog.DiscardHandler), NewID: func() string { return "id" }})
	f.Fuzz(func(t *testing.T, which uint8, body string) {
		if sum := crc32.ChecksumIEEE([]byte(body)); sum%5 != 0 {
			return
		}
		path := forms[int(which)%len(forms)]
		w := httptest.NewRecorder()
		r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		page.ServeHTTP(w, r)
		h.said = nil
		if w.Code >= 500 {
			t.Errorf("%s %q: %d", path, body, w.Code)
		}
		if to := w.Header().Get("Location"); to != "" {
			if u, err := url.Parse(to); err != nil || u.Host != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") {
				t.Errorf("%s %q leads to %q", path, body, to)
			}
		}
	})
}

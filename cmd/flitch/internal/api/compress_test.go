package api

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// serve answers with body in parts of a size, by kind, to one who takes gzip or not.
func serve(t *testing.T, kind, body string, part int, takes string, more func(http.ResponseWriter)) *http.Response {
	t.Helper()
	h := compress(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		if more != nil {
			more(w)
		}
		for len(body) > 0 {
			n := min(part, len(body))
			if _, err := io.WriteString(w, body[:n]); err != nil {
				t.Error(err)
			}
			body = body[n:]
		}
	}))
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.Header.Set("Accept-Encoding", takes)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func TestLongAnswersAreCompressed(t *testing.T) {
	long := strings.Repeat("flitch watches the fridge. ", 200)
	for _, c := range []struct {
		name, kind, body string
		part             int
		takes            string
		more             func(http.ResponseWriter)
		status           int
		squeezed         bool
	}{
		{"a page", "text/html; charset=utf-8", long, 9999, "gzip, br", nil, 200, true},
		{"a page in small parts", "text/html", long, 100, "gzip", nil, 200, true},
		{"a refused form", "text/html", long, 9999, "gzip", func(w http.ResponseWriter) { w.WriteHeader(422) }, 422, true},
		{"a picture of lines", "image/svg+xml", long, 9999, "gzip", nil, 200, true},
		{"with a length", "application/json", long, 9999, "gzip", func(w http.ResponseWriter) { w.Header().Set("Content-Length", "5400") }, 200, true},
		{"one who takes none", "text/html", long, 9999, "", nil, 200, false},
		{"one who will not have it", "text/html", long, 9999, "br, gzip;q=0", nil, 200, false},
		{"one who likes other things more", "text/html", long, 9999, "br, GZIP; q=0.1", nil, 200, true},
		{"one with another name", "text/html", long, 9999, "x-gzipped", nil, 200, false},
		{"a short answer", "text/html", "short", 2, "gzip", nil, 200, false},
		{"an empty one", "text/html", "", 2, "gzip", func(w http.ResponseWriter) { w.WriteHeader(404) }, 404, false},
		{"the stream", "text/event-stream", long, 9999, "gzip", nil, 200, false},
		{"an icon", "image/png", long, 9999, "gzip", nil, 200, false},
		{"a part", "text/html", long, 9999, "gzip", func(w http.ResponseWriter) { w.WriteHeader(206) }, 206, false},
		{"compressed already", "text/html", long, 9999, "gzip", func(w http.ResponseWriter) { w.Header().Set("Content-Encoding", "br") }, 200, false},
	} {
		got := serve(t, c.kind, c.body, c.part, c.takes, c.more)
		raw, err := io.ReadAll(got.Body)
		if err != nil {
			t.Fatal(err)
		}
		text := string(raw)
		if squeezed := got.Header.Get("Content-Encoding") == "gzip"; squeezed != c.squeezed {
			t.Errorf("%s: squeezed %v, want %v", c.name, squeezed, c.squeezed)
			continue
		}
		if c.squeezed {
			z, err := gzip.NewReader(strings.NewReader(text))
			if err != nil {
				t.Fatalf("%s: %v", c.name, err)
			}
			plain, err := io.ReadAll(z)
			if err != nil || len(raw) > len(c.body)/2 || got.Header.Get("Vary") != "Accept-Encoding" || got.Header.Get("Content-Length") != "" {
				t.Errorf("%s: %d bytes of %d, %v, %v", c.name, len(raw), len(c.body), got.Header, err)
			}
			text = string(plain)
		}
		if text != c.body || got.StatusCode != c.status {
			t.Errorf("%s: %d, %q", c.name, got.StatusCode, text)
		}
	}
}

// What is cut off in the middle is not a whole answer.
func TestACutAnswerIsNotFinished(t *testing.T) {
	s := httptest.NewServer(compress(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/csv")
		io.WriteString(w, strings.Repeat("row\n", 100_000))
		panic(http.ErrAbortHandler)
	})))
	defer s.Close()
	got, err := http.Get(s.URL)
	if err != nil {
		return // cut off before it began: no whole answer either
	}
	defer got.Body.Close()
	if body, err := io.ReadAll(got.Body); err == nil {
		t.Errorf("%d bytes came as if they were all", len(body))
	}
}

// A stream that is flushed comes at once, also to one who takes gzip.
func TestFlushedIsSent(t *testing.T) {
	for kind, want := range map[string]string{"text/event-stream": "event: beat\n\n", "text/html": "<p>"} {
		flushed := httptest.NewRecorder()
		h := compress(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", kind)
			io.WriteString(w, want)
			if err := http.NewResponseController(w).Flush(); err != nil {
				t.Error(err)
			}
			if flushed.Body.String() != want || !flushed.Flushed {
				t.Errorf("%s: %q, flushed %v", kind, flushed.Body, flushed.Flushed)
			}
		}))
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Header.Set("Accept-Encoding", "gzip")
		h.ServeHTTP(flushed, r)
	}
}

package api

import (
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// file serves the papers of a batch: record.csv, record.json, record.html,
// chart.svg. Every other name is the page's.
func (s *server) file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("file")
	kinds := map[string]string{
		"record.csv": "text/csv; charset=utf-8", "record.json": "application/json",
		"record.html": "text/html; charset=utf-8", "chart.svg": "image/svg+xml",
	}
	kind, ours := kinds[name]
	if !ours {
		if s.Page == nil {
			http.NotFound(w, r)
			return
		}
		s.Page.ServeHTTP(w, r)
		return
	}
	view, err := s.view(r, name == "chart.svg")
	if err != nil {
		s.fail(w, r, err)
		return
	}
	select {
	case s.drawing <- struct{}{}:
		defer func() { <-s.drawing }()
	case <-r.Context().Done():
		return
	}
	rec, err := s.Reader.Record(r.Context(), r.PathValue("id"), Window{view.From, view.To})
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := &paper{ResponseWriter: w, begin: func() { head(w, r.PathValue("id"), name, kind) }}
	writers := map[string]func(io.Writer) error{
		"record.csv": rec.CSV, "record.json": rec.JSON, "record.html": rec.HTML,
		"chart.svg": func(w io.Writer) error { return rec.Chart(w, view) },
	}
	if err := writers[name](out); err != nil {
		s.torn(w, r, out, err)
	}
}

// torn ends an answer that failed. When part of it is on its way the connection
// is cut: half a record with no sign of the fault would be worse than none.
func (s *server) torn(w http.ResponseWriter, r *http.Request, out *paper, err error) {
	if !out.begun {
		s.fail(w, r, err)
		return
	}
	if r.Context().Err() == nil {
		s.Log.Error("paper torn", "path", r.URL.Path, "error", err)
	}
	panic(http.ErrAbortHandler) // net/http's own way to cut an answer short
}

// A paper writes its headers with its first byte, so that a fault before can
// still be told. A week of twelve probes at five seconds is over 100 MB of CSV,
// too much to hold in memory first.
type paper struct {
	http.ResponseWriter
	begin func()
	begun bool
}

// Write writes the headers, once, and the bytes.
func (p *paper) Write(b []byte) (int, error) {
	if !p.begun {
		p.begun = true
		p.begin()
	}
	return p.ResponseWriter.Write(b)
}

func head(w http.ResponseWriter, id, name, kind string) {
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Content-Security-Policy", paperPolicy)
	h.Set("Cache-Control", "no-store")
	if strings.HasSuffix(name, ".csv") || strings.HasSuffix(name, ".json") {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": id + "-" + name}))
	}
}

// view reads which part of the batch is wanted: from and to in RFC 3339, or
// hours, the latest so many; and the width in pixels. A record is always whole.
func (s *server) view(r *http.Request, chart bool) (v record.View, err error) {
	q := r.URL.Query()
	if !chart {
		return v, nil
	}
	if v.From, err = moment(q, "from"); err != nil {
		return v, err
	}
	if v.To, err = moment(q, "to"); err != nil {
		return v, err
	}
	hours, err := number(q, "hours", 1, 24*366)
	if err != nil {
		return v, err
	}
	if v.Width, err = number(q, "width", 300, 2400); err != nil {
		return v, err
	}
	if hours > 0 && v.From.IsZero() {
		end := v.To
		if end.IsZero() {
			end = s.Clock.Now()
		}
		v.From = end.Add(-time.Duration(hours) * time.Hour)
	}
	if !v.To.IsZero() && !v.To.After(v.From) {
		return v, &process.Refusal{What: "the chart would end before it begins", Hint: "let to come after from"}
	}
	return v, nil
}

func moment(q url.Values, name string) (time.Time, error) {
	text := q.Get(name)
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return t, &process.Refusal{What: fmt.Sprintf("%s=%q is not a time", name, text), Hint: "write it like 2026-11-18T02:14:00Z"}
	}
	return t.UTC(), nil
}

func number(q url.Values, name string, low, high int) (int, error) {
	text := q.Get(name)
	if text == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		return 0, &process.Refusal{What: fmt.Sprintf("%s=%q cannot be drawn", name, text), Hint: fmt.Sprintf("a whole number from %d to %d", low, high)}
	}
	return n, nil
}

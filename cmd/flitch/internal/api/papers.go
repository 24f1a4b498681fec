package api

import (
	"io"
	"mime"
	"net/http"
	"slices"
	"strings"
)

// paperKinds are the papers of a batch and what they are.
var paperKinds = map[string]string{
	"record.csv": "text/csv; charset=utf-8", "record.json": "application/json", "record.html": "text/html; charset=utf-8", "record.pdf": "application/pdf",
	"record.xlsx":  "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
	"record.proof": "application/gzip",
	"chart.svg":    svg, "chart.json": "application/json", "cure.svg": svg, "cook.svg": svg, "chill.svg": svg,
}

const svg = "image/svg+xml"

// file serves the papers of a batch. Every other name is the page's.
func (s *server) file(w http.ResponseWriter, r *http.Request) {
	name, id := r.PathValue("file"), r.PathValue("id")
	kind, ours := paperKinds[name]
	if !ours {
		if s.Page == nil {
			http.NotFound(w, r)
			return
		}
		s.Page.ServeHTTP(w, r)
		return
	}
	select {
	case s.drawing <- struct{}{}:
		defer func() { <-s.drawing }()
	case <-r.Context().Done():
		return
	}
	write, err := s.writer(r, id, name)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	out := &paper{ResponseWriter: w, begin: func() { head(w, id, name, kind) }}
	if err := write(out); err != nil {
		s.torn(w, r, out, err)
	}
}

// writer returns what writes the named paper.
func (s *server) writer(r *http.Request, id, name string) (func(io.Writer) error, error) {
	if name == "record.proof" {
		return func(w io.Writer) error { return s.Reader.Proof(r.Context(), id, w) }, nil
	}
	format, ok := strings.CutPrefix(name, "record.")
	if !ok {
		return s.picture(r, id, name)
	}
	asked := recordAsked(format, r.URL.Query())
	if err := asked.Check(); err != nil {
		return nil, err
	}
	rec, err := s.Reader.Record(r.Context(), id)
	if err != nil {
		return nil, err
	}
	return asked.Writer(rec)
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
	if slices.Contains([]string{"record.csv", "record.json", "record.xlsx"}, name) {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": id + "-" + name}))
	}
	if name == "record.proof" {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": id + ".proof.gz"}))
	}
}

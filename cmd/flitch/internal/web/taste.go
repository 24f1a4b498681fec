package web

import (
	"net/http"
	"net/url"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/process"
)

// A tastePage is what the page of the taste card is given beside what all pages are.
type tastePage struct {
	page
	Work   Work
	Scores map[string]string // as they were typed
	Next   string
	Bad    map[string]string // what is wrong, by name of the field
}

func (s *server) tasteRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /batches/{id}/taste", func(w http.ResponseWriter, r *http.Request) {
		p := tastePage{page: s.page(r)}
		p.Form.ID = s.NewID()
		s.showTaste(w, r, http.StatusOK, p)
	})
	mux.HandleFunc("POST /batches/{id}/taste", s.tasted)
}

func (s *server) showTaste(w http.ResponseWriter, r *http.Request, status int, p tastePage) {
	var ok bool
	if p.Work, ok = s.work(w, r); ok {
		s.show(w, status, "taste.html", p)
	}
}

func (s *server) tasted(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := tastePage{page: s.page(r), Scores: map[string]string{}, Bad: map[string]string{}}
	if err := r.ParseForm(); err != nil {
		p.Wrong, p.Form.ID = must("err.form"), s.NewID()
		s.showTaste(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	e := typed(r.PostForm)
	p.Form.By, p.Form.ID, p.Next = e.By, s.NewID(), strings.TrimSpace(r.PostForm.Get("next"))
	c, err := s.command(entry{ID: e.ID, Batch: r.PathValue("id"), By: e.By})
	if err != nil {
		p.Bad["by"] = err.Error()
	}
	c.Taste = p.read(r.PostForm)
	s.identify(&c, process.CommandTasted, "")
	if len(p.Bad) > 0 {
		p.Wrong = must("err.fields")
		s.showTaste(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	if err := s.Commander.Do(r.Context(), c); err != nil {
		s.showTaste(w, r, s.wrong(&p.page, "take a taste card of "+c.Batch, err), p)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, batchPath(c.Batch)+"/taste?done", http.StatusSeeOther)
}

// read reads the card.
func (p tastePage) read(v url.Values) *process.Taste {
	t := &process.Taste{Next: p.Next}
	for _, name := range process.TasteNames() {
		text := strings.TrimSpace(v.Get(name))
		if p.Scores[name] = text; text == "" {
			continue
		}
		n, ok := plain.Number(text)
		if !ok || n != float64(int(n)) || n < 1 || n > 5 {
			p.Bad[name] = must("err.taste", text)
			continue
		}
		*t.Score(name) = int(n)
	}
	if *t == (process.Taste{}) && len(p.Bad) == 0 {
		p.Bad["next"] = must("err.taste.none")
	}
	return t
}

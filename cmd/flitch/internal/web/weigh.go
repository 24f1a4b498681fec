package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"flitch/cmd/flitch/internal/plain"
	"flitch/cmd/flitch/internal/quantity"
	"flitch/process"
)

// A weighPage is what the page of weights and counts is given beside what all pages are.
type weighPage struct {
	page
	Work  Work
	Weigh weighForm
}

// A weighForm is what was typed of weights and counts.
type weighForm struct {
	Rung       string
	Grams      []string // of each piece
	All        string   // of all together
	Count, Way string   // Way: "in smoke", "out smoke"
	Text, When string
	CountWhen  string
	Wrong      map[string]string
}

func (s *server) weighRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /batches/{id}/weigh", func(w http.ResponseWriter, r *http.Request) {
		p := weighPage{page: s.page(r)}
		p.Form.ID = s.NewID()
		s.showWeigh(w, r, http.StatusOK, p)
	})
	mux.HandleFunc("POST /batches/{id}/weigh", func(w http.ResponseWriter, r *http.Request) { s.weighOrCount(w, r, s.weighed) })
	mux.HandleFunc("POST /batches/{id}/count", func(w http.ResponseWriter, r *http.Request) { s.weighOrCount(w, r, s.counted) })
}

func (s *server) showWeigh(w http.ResponseWriter, r *http.Request, status int, p weighPage) {
	var ok bool
	if p.Work, ok = s.work(w, r); !ok {
		return
	}
	for len(p.Weigh.Grams) < len(p.Work.Pieces) {
		p.Weigh.Grams = append(p.Weigh.Grams, "")
	}
	s.show(w, status, "weigh.html", p)
}

// weighOrCount takes either form; what it says is one command.
func (s *server) weighOrCount(w http.ResponseWriter, r *http.Request, read func(*http.Request, *weighForm, *process.Command)) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := weighPage{page: s.page(r)}
	if err := r.ParseForm(); err != nil {
		p.Wrong, p.Form.ID = must("err.form"), s.NewID()
		s.showWeigh(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	e := typed(r.PostForm)
	p.Form.By, p.Form.ID, p.Weigh = e.By, s.NewID(), typedWeigh(r.PostForm)
	c, err := s.command(entry{ID: e.ID, Batch: r.PathValue("id"), By: e.By})
	if err != nil {
		by := "by"
		if strings.HasSuffix(r.URL.Path, "/count") {
			by = "count-by"
		}
		p.Weigh.Wrong[by] = err.Error()
	}
	read(r, &p.Weigh, &c)
	if len(p.Weigh.Wrong) > 0 {
		p.Wrong = must("err.fields")
		s.showWeigh(w, r, http.StatusUnprocessableEntity, p)
		return
	}
	if err := s.Commander.Do(r.Context(), c); err != nil {
		s.showWeigh(w, r, s.wrong(&p.page, "weigh or count "+c.Batch, err), p)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, batchPath(c.Batch)+"/weigh?done", http.StatusSeeOther)
}

func typedWeigh(v url.Values) weighForm {
	get := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	f := weighForm{Rung: get("rung"), All: get("all"), Count: get("count"), Way: get("way"), Text: get("text"), When: get("when"), CountWhen: get("count-when"), Wrong: map[string]string{}}
	for _, text := range v["grams"] {
		f.Grams = append(f.Grams, strings.TrimSpace(text))
	}
	return f
}

// weighed reads the weights of all pieces, or that of all together.
func (s *server) weighed(r *http.Request, f *weighForm, c *process.Command) {
	var err error
	if c.At, err = s.when(f.When, c.At); err != nil {
		f.Wrong["when"] = err.Error()
	}
	if c.Rung = process.Rung(f.Rung); !slices.Contains(process.Ladder(), c.Rung) {
		f.Wrong["rung"] = must("err.weigh.rung")
	}
	for i, piece := range r.PostForm["piece"] {
		if i < len(f.Grams) && f.Grams[i] != "" {
			c.Weights = append(c.Weights, process.PieceWeight{Piece: piece, Grams: f.quantity("grams-"+piece, f.Grams[i])})
		}
	}
	switch {
	case f.All != "" && len(c.Weights) > 0:
		f.Wrong["all"] = must("err.weigh.both")
	case f.All != "":
		c.Weights = []process.PieceWeight{{Grams: f.quantity("all", f.All)}}
	case len(c.Weights) == 0:
		f.Wrong["all"] = must("err.weigh.none")
	}
	c.Text = f.Text
	s.identify(c, process.CommandWeighed, "-"+f.Rung)
}

func (f *weighForm) quantity(name, text string) float64 {
	if _, bare := plain.Number(text); bare {
		text += "g"
	}
	g, err := quantity.Weight(text)
	if err != nil {
		f.Wrong[name] = err.Error()
	}
	return g
}

// counted reads how many pieces went into a stage or came out of it.
func (s *server) counted(_ *http.Request, f *weighForm, c *process.Command) {
	var err error
	if c.At, err = s.when(f.CountWhen, c.At); err != nil {
		f.Wrong["count-when"] = err.Error()
	}
	way, stage, _ := strings.Cut(f.Way, " ")
	c.Way, c.Stage = process.Way(way), process.StageName(stage)
	if c.Way != process.WayIn && c.Way != process.WayOut || stage == "" {
		f.Wrong["way"] = must("err.count.way")
	}
	n, ok := plain.Number(f.Count)
	if !ok || n != float64(int(n)) || n < 0 {
		f.Wrong["count"] = must("err.count", f.Count)
	}
	c.Value = n
	s.identify(c, process.CommandCounted, "-"+f.Way)
}

// A side is one side of a stage, and what was counted there.
type side struct {
	Value, Words string
	Count        *process.Count // newest; nil: not counted
	Missing      int            // of all pieces
}

// Sides are both sides of each stage the batch was in, the newest first: there people
// count.
func (w Work) Sides() (out []side) {
	for _, e := range slices.Backward(w.Stages) {
		for _, way := range []process.Way{process.WayOut, process.WayIn} {
			v := side{Value: fmt.Sprintf("%s %s", way, e.Name), Words: must("count."+string(way), e.Name)}
			for i, c := range w.Counts {
				if c.Way == way && c.Stage == e.Name {
					v.Count, v.Missing = &w.Counts[i], len(w.Pieces)-c.Pieces
				}
			}
			out = append(out, v)
		}
	}
	return out
}

// Green is the green weight of all pieces, g.
func (w Work) Green() (g float64) {
	for _, p := range w.Pieces {
		g += p.GreenG
	}
	return g
}

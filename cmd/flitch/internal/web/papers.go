package web

import (
	"context"
	"errors"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flitch/process"
	"flitch/process/record"
)

// Papers are what stands behind the papers of a batch, open or closed.
type Papers interface {
	// Papers returns all of a batch that its papers are written from, or a
	// *process.Refusal with NotFound set. about is what an action is to be about; empty:
	// nothing yet.
	Papers(ctx context.Context, id, about string) (BatchPapers, error)

	// NoteWithPhoto takes a note whose Photo names the JPEG, both or neither.
	NoteWithPhoto(ctx context.Context, c process.Command, jpeg []byte) error

	// Photo returns a picture of a note of the batch, or a *process.Refusal with NotFound
	// set.
	Photo(ctx context.Context, id, hash string) ([]byte, error)
}

// BatchPapers is a batch as its papers have it.
type BatchPapers struct {
	Summary
	Class        process.Class
	By           string
	End          process.Ending
	Pieces       []string
	Clocks       []process.Clock
	Verdict      process.Verdict
	Held         []string // by what; none: it is not
	Early        bool     // closing it now is before its plan ends, and needs a reason
	Waits        bool     // closed, and not reviewed since
	Deviations   []record.Deviation
	Actions      []record.Action
	Dispositions []record.Disposition
	Reviews      []process.ReviewEntry
	Notes        []record.Entry // newest first
	Offers       []Offer
	Ready        process.ActionSaid // text of what was asked for, with the blanks of a person left
	Drawn        bool               // there are charts
}

// Open reports whether the batch runs.
func (b BatchPapers) Open() bool { return b.Closed.IsZero() }

// An Offer is something that a corrective action may be about.
type Offer struct {
	About string
	Words string
	Taken []int // numbers of the actions about it
}

// A papersPage is what the page of papers is given.
type papersPage struct {
	page
	Papers BatchPapers
	Sheet  sheet
	About  string
}

// A sheet is a form of the papers as it was typed, and what is wrong with each field.
type sheet struct {
	Of                                         string // which form: note, action, disposition, review or close
	About, Cause, Control, Prevention, Product string
	What, Why, Text, When                      string
	Pieces                                     []string

	Wrong map[string]string // by name of the field
}

// Has reports a form that was refused: it stays open.
func (s sheet) Has(form string) bool { return s.Of == form }

// Ticked reports a piece that was chosen.
func (s sheet) Ticked(piece string) bool { return slices.Contains(s.Pieces, piece) }

// An aside is what is wrong with a field, and what that stands under on the page.
type aside struct{ ID, Text string }

func asideOf(s sheet, form, field string) aside {
	if s.Of != form {
		return aside{}
	}
	return aside{form + "-" + field + "-wrong", s.Wrong[field]}
}

// A paperForm is one of the forms as its common fields are given it.
type paperForm struct {
	papersPage
	Name string
}

func formOf(p papersPage, name string) paperForm { return paperForm{p, name} }

// joined are names or numbers in one line.
func joined(list any) string {
	var words []string
	switch list := list.(type) {
	case []string:
		words = list
	case []int:
		for _, n := range list {
			words = append(words, strconv.Itoa(n))
		}
	}
	return strings.Join(words, ", ")
}

// papersRoutes registers the papers of a batch.
func (s *server) papersRoutes(mux *http.ServeMux) {
	if s.Papers == nil {
		return
	}
	mux.HandleFunc("GET /batches/{id}/papers", func(w http.ResponseWriter, r *http.Request) {
		s.showPapers(w, r, http.StatusOK, r.PathValue("id"), papersPage{page: s.fresh(r), About: r.URL.Query().Get("about")})
	})
	mux.HandleFunc("GET /papers", s.papersOf)
	mux.HandleFunc("GET /batches/{id}/photos/{file}", s.photo)
	mux.HandleFunc("POST /batches/{id}/papers/note", s.takeNote)
	mux.HandleFunc("POST /batches/{id}/papers/action", s.takesSheet("action", fillAction))
	mux.HandleFunc("POST /batches/{id}/papers/disposition", s.takesSheet("disposition", fillDisposition))
	mux.HandleFunc("POST /batches/{id}/papers/review", s.takesSheet("review", fillReview))
	mux.HandleFunc("POST /batches/{id}/papers/close", s.takesSheet("close", fillClose))
}

func (s *server) takesSheet(form string, fill func(*process.Command, sheet)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) { s.takeSheet(w, r, form, fill) }
}

// fresh is a page whose forms have an identity of their own.
func (s *server) fresh(r *http.Request) page {
	p := s.page(r)
	p.Form.ID = s.NewID()
	return p
}

func (s *server) showPapers(w http.ResponseWriter, r *http.Request, status int, id string, p papersPage) {
	b, err := s.Papers.Papers(r.Context(), id, p.About)
	var no *process.Refusal
	switch {
	case errors.As(err, &no) && no.NotFound:
		s.missing(w, r, id)
		return
	case err != nil:
		s.broken(w, "read the papers of "+id, err)
		return
	}
	p.Papers = b
	p.saidBefore(r.URL.Query().Get("before"))
	if !p.Sheet.Has("action") {
		p.Sheet.About, p.Sheet.Cause, p.Sheet.Control, p.Sheet.Prevention, p.Sheet.Product = b.Ready.About, b.Ready.Cause, b.Ready.Control, b.Ready.Prevention, b.Ready.Product
	}
	s.show(w, status, "papers.html", p)
}

// saidBefore tells the second of two people whose review stands.
func (p *papersPage) saidBefore(id string) {
	for _, e := range p.Papers.Reviews {
		if id != "" && e.ID == id {
			p.Said = &said{ID: id, Words: must("papers.review.before"), By: e.By, At: e.Typed, Already: true}
		}
	}
}

// papersOf finds the batch for an action about an alarm of a place.
func (s *server) papersOf(w http.ResponseWriter, r *http.Request) {
	glances, err := s.Reader.Glances(r.Context())
	if err != nil {
		s.broken(w, "read the open batches", err)
		return
	}
	about := r.URL.Query().Get("about")
	for _, g := range glances {
		if slices.ContainsFunc(g.Alarms, func(a Alarm) bool { return strconv.FormatInt(a.Number, 10) == about }) || len(glances) == 1 {
			http.Redirect(w, r, papersPath(g.Batch)+"?about="+url.QueryEscape(about)+"#action", http.StatusSeeOther)
			return
		}
	}
	http.Redirect(w, r, "/batches", http.StatusSeeOther)
}

func papersPath(id string) string { return batchPath(id) + "/papers" }

// typedSheet reads a form of the papers.
func typedSheet(form string, f url.Values) sheet {
	get := func(name string) string { return strings.TrimSpace(f.Get(name)) }
	return sheet{Of: form, About: get("about"), Cause: get("cause"), Control: get("control"), Prevention: get("prevention"), Product: get("product"),
		What: get("what"), Why: get("why"), Text: get("text"), When: get("when"), Pieces: f["piece"], Wrong: map[string]string{}}
}

// takeSheet takes one of the forms without a picture. What is wrong is said beside its
// field, and what was typed is kept.
func (s *server) takeSheet(w http.ResponseWriter, r *http.Request, form string, fill func(*process.Command, sheet)) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := papersPage{page: s.fresh(r)}
	if err := r.ParseForm(); err != nil {
		p.Wrong = must("err.form")
		s.showPapers(w, r, http.StatusUnprocessableEntity, r.PathValue("id"), p)
		return
	}
	p.Sheet = typedSheet(form, r.PostForm)
	c := s.sheetCommand(r, &p)
	fill(&c, p.Sheet)
	s.identify(&c, c.Kind, "")
	if s.stopped(w, r, p, s.Commander.Do, c) {
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, papersPath(c.Batch)+"?done", http.StatusSeeOther)
}

// sheetCommand is what all forms of the papers have: who, for what, and both times.
func (s *server) sheetCommand(r *http.Request, p *papersPage) process.Command {
	e := typed(r.PostForm)
	p.Form.By, p.About = e.By, p.Sheet.About
	c, err := s.command(entry{ID: e.ID, By: e.By, Batch: r.PathValue("id")})
	if err != nil {
		p.Sheet.Wrong["by"] = err.Error()
	}
	if c.At, err = s.when(p.Sheet.When, c.At); err != nil {
		p.Sheet.Wrong["when"] = err.Error()
	}
	return c
}

// stopped has the command done, and shows the form again if something is wrong with it.
func (s *server) stopped(w http.ResponseWriter, r *http.Request, p papersPage, do func(context.Context, process.Command) error, c process.Command) bool {
	check(c, p.Sheet)
	if len(p.Sheet.Wrong) > 0 {
		p.Wrong = must("err.fields")
		p.again(c)
		s.showPapers(w, r, http.StatusUnprocessableEntity, r.PathValue("id"), p)
		return true
	}
	err := do(r.Context(), c)
	if no, ok := errors.AsType[*process.Refusal](err); ok && no.Already != nil {
		http.Redirect(w, r, papersPath(c.Batch)+"?before="+url.QueryEscape(no.Already.ID), http.StatusSeeOther)
		return true
	}
	if err != nil {
		status := s.wrong(&p.page, p.Sheet.Of+" of batch "+c.Batch, err)
		p.Sheet.Wrong["form"] = strings.TrimSuffix(p.Wrong+": "+p.Hint, ": ")
		p.again(c)
		s.showPapers(w, r, status, c.Batch, p)
		return true
	}
	return false
}

// again asks for a picture that came with a form in which something else was wrong.
func (p papersPage) again(c process.Command) {
	if c.Photo != nil {
		p.Sheet.Wrong["photo"] = must("err.papers.again")
	}
}

// check notes beside each field what can be seen to be missing without the batch.
func check(c process.Command, f sheet) {
	switch f.Of {
	case "action":
		if f.About == "" {
			f.Wrong["about"] = must("err.papers.about")
		}
		if f.Cause+f.Control+f.Prevention+f.Product == "" {
			f.Wrong["cause"] = must("err.papers.cause")
		}
	case "disposition":
		if c.Disposition == "" {
			f.Wrong["what"] = must("err.papers.what")
		}
		if c.Text == "" {
			f.Wrong["why"] = must("err.papers.why")
		}
	case "note":
		if c.Text == "" && c.Photo == nil && f.Wrong["photo"] == "" {
			f.Wrong["text"] = must("err.note")
		}
	}
}

func fillAction(c *process.Command, f sheet) {
	c.Kind = process.CommandAction
	c.Action = &process.ActionSaid{About: f.About, Cause: f.Cause, Control: f.Control, Prevention: f.Prevention, Product: f.Product}
}

func fillDisposition(c *process.Command, f sheet) {
	c.Kind, c.Disposition, c.Pieces, c.Text = process.CommandDisposition, process.Disposition(f.What), f.Pieces, f.Why
}

func fillReview(c *process.Command, f sheet) { c.Kind, c.Text = process.CommandReviewed, f.Text }

func fillClose(c *process.Command, f sheet) { c.Kind, c.Text = process.CommandClose, f.Text }

// paperWords are the functions of the templates of papers.
func paperWords() template.FuncMap {
	return template.FuncMap{
		"joined":       joined,
		"blanks":       func(text string) bool { return strings.Contains(text, process.Blank) },
		"aside":        asideOf,
		"wronged":      formOf,
		"toReview":     toReview,
		"dispositions": process.Dispositions,
		"passes":       func() float64 { return process.CheckLimitK },
	}
}

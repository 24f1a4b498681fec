package web

import (
	"net/http"
	"net/url"
	"slices"
	"time"

	"flitch/process"
	"flitch/process/cure"
)

// A beginPage is what the pages of a new batch are given beside what all pages are.
type beginPage struct {
	page
	Begin   *beginForm
	Choices Choices
	Like    string           // the batch it is filled in from
	Plan    process.Plan     // chosen, in the review
	Batch   process.NewBatch // that would be started
	Doses   *beginDoses      // nil: none is asked
}

// beginRoutes registers the pages of a new batch.
func (s *server) beginRoutes(mux *http.ServeMux) {
	if s.Batches == nil {
		return
	}
	mux.HandleFunc("GET /batches/new", s.begin)
	mux.HandleFunc("POST /batches/new", s.beginForm)
	s.doseRoutes(mux)
	s.weighRoutes(mux)
	s.labelRoutes(mux)
	s.tasteRoutes(mux)
	s.costRoutes(mux)
	s.compareRoutes(mux)
}

// classes are the products there are, the one that its eater cooks first.
func classes() []process.Class { return []process.Class{process.NotFullyCooked, process.FullyCooked} }

// begin shows the classes, or with one the empty form, or with a batch one like it.
func (s *server) begin(w http.ResponseWriter, r *http.Request) {
	p := beginPage{page: s.page(r), Like: r.URL.Query().Get("like"), Begin: &beginForm{Class: r.URL.Query().Get("class")}}
	p.Form.ID = s.NewID()
	var err error
	if p.Choices, err = s.Batches.Choices(r.Context()); err != nil {
		s.broken(w, "read the plans", err)
		return
	}
	if p.Like != "" {
		if err := s.fillLike(r, &p); err != nil {
			s.show(w, s.wrong(&p.page, "read batch "+p.Like, err), "begin.html", p)
			return
		}
	}
	if slices.Contains(classes(), process.Class(p.Begin.Class)) {
		p.Begin.withRows(firstRows)
		p.Begin.onlyPlaces(p.Like == "", p.Choices)
		p.Begin.Name, err = s.freeName(r)
	} else {
		p.Begin.Class = ""
	}
	if err != nil {
		s.broken(w, "read the batches", err)
		return
	}
	s.show(w, http.StatusOK, "begin.html", p)
}

func (s *server) fillLike(r *http.Request, p *beginPage) error {
	like, err := s.Batches.Like(r.Context(), p.Like)
	if err != nil {
		return err
	}
	for _, plan := range p.Choices.Plans {
		if plan.Name == like.Plan {
			p.Begin = formLike(like, plan.Class)
			return nil
		}
	}
	return &process.Refusal{What: must("err.begin.like", p.Like, like.Plan)}
}

func (s *server) freeName(r *http.Request) (string, error) {
	batches, err := s.Reader.Batches(r.Context())
	return nextName(batches, s.Site.Local(s.Clock.Now()).Format(time.DateOnly)), err
}

// beginForm takes the form of a new batch: for more rows, for the review, to go back from
// it, or to start.
func (s *server) beginForm(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := beginPage{page: s.page(r), Begin: &beginForm{}}
	if err := r.ParseForm(); err != nil {
		p.Wrong = must("err.form")
		s.show(w, http.StatusUnprocessableEntity, "begin.html", p)
		return
	}
	e := typed(r.PostForm)
	p.Begin, p.Form.By, p.Form.ID = typedBegin(r.PostForm), e.By, e.ID
	var err error
	if p.Choices, err = s.Batches.Choices(r.Context()); err != nil {
		s.broken(w, "read the plans", err)
		return
	}
	switch r.PostForm.Get("do") {
	case "rows":
		p.Begin.withRows(len(p.Begin.Rows) + moreRows)
		fallthrough
	case "back":
		s.show(w, http.StatusOK, "begin.html", p)
		return
	}
	c, err := s.newBatch(r, e, &p)
	if err != nil || len(p.Begin.Wrong) > 0 {
		s.refuseBegin(w, &p, err)
		return
	}
	if r.PostForm.Get("do") != "start" {
		s.show(w, http.StatusOK, "review.html", p)
		return
	}
	if err := s.Commander.Do(r.Context(), c); err != nil {
		p.Form.ID = s.NewID() // what was refused is another command when it is right
		if err := s.nameTaken(r, p.Begin); err != nil {
			s.Log.Error("names of batches not read", "error", err)
		}
		s.refuseBegin(w, &p, err)
		return
	}
	remember(w, c.By)
	http.Redirect(w, r, s.afterBegin(p), http.StatusSeeOther)
}

// afterBegin is what is done next: the cure is weighed.
func (s *server) afterBegin(p beginPage) string {
	path := "/batches/" + url.PathEscape(p.Begin.Name)
	if p.Doses != nil {
		path += "/doses"
	}
	return path + "?done"
}

func (s *server) refuseBegin(w http.ResponseWriter, p *beginPage, err error) {
	status := http.StatusUnprocessableEntity
	if err != nil {
		status = s.wrong(&p.page, "begin a batch", err)
	} else {
		p.Wrong = must("err.fields")
	}
	s.show(w, status, "begin.html", *p)
}

// newBatch makes the command of the form, and fills in the review.
func (s *server) newBatch(r *http.Request, e entry, p *beginPage) (process.Command, error) {
	c, err := s.command(e)
	if err != nil {
		p.Begin.Wrong["by"], err = err.Error(), nil
	}
	read := p.Begin.read(p.Choices)
	if r.PostForm.Get("do") != "start" { // then the engine knows, and knows a form that came twice
		err = s.nameTaken(r, p.Begin)
	}
	if err != nil || len(p.Begin.Wrong) > 0 {
		return c, err
	}
	if p.Batch, err = s.Batches.Resolve(read.Request); err != nil {
		return c, err
	}
	if p.Plan = p.Batch.Plan; read.Doses != nil {
		p.Doses = &beginDoses{*read.Doses, read.Request.Asked}
	}
	c.Batch, c.New = p.Begin.Name, &p.Batch
	if c.ID == "" || len(c.ID) > maxID {
		p.Form.ID = s.NewID()
	}
	c.ID = p.Form.ID
	s.identify(&c, process.CommandNew, "")
	return c, process.Check(nil, c, s.Clock.Now())
}

// nameTaken complains of a name that another batch has.
func (s *server) nameTaken(r *http.Request, f *beginForm) error {
	batches, err := s.Reader.Batches(r.Context())
	if slices.ContainsFunc(batches, func(b Summary) bool { return b.ID == f.Name }) {
		f.Wrong["name"] = must("err.begin.taken", f.Name, nextName(batches, f.Name))
	}
	return err
}

// answered are the checks of a dose that can be answered before anything was weighed.
func answered(list []cure.Check) (out []cure.Check) {
	for _, c := range list {
		if c.Answer != cure.NotMeasured || c.Limit == 0 {
			out = append(out, c)
		}
	}
	return out
}

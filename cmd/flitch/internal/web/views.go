package web

import (
	"bytes"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"flitch/cmd/flitch/internal/signin"
)

// A page is what a template is given.
type page struct {
	Site   string
	Path   string // of this page, to come back to
	Now    time.Time
	Rings  bool   // there is a page of phones
	In     string // who has signed in; empty: nobody has to
	Guest  bool   // who may look only
	Done   bool   // a command was taken; set after the redirect
	Wrong  string // why it was not
	Hint   string
	Form   entry // what was typed, kept when it was refused
	Marks  marks // beside which field it is said why
	Glance Glance
	List   []Glance
	Closed []Summary
	Night  Night
	Alarms []Alarm
	Alarm  Alarm
	Cards  Cards
	Home   home

	Entered entered // of the batch, the newest first
	Said    *said   // what was just entered; nil: the page was only looked at
	Back    bool    // taking back an answer was refused
}

func (s *server) list(w http.ResponseWriter, r *http.Request) {
	glances, err := s.Reader.Glances(r.Context())
	if err != nil {
		s.broken(w, "read the open batches", err)
		return
	}
	if lit := fire(glances); lit != nil && r.URL.Path == "/" {
		http.Redirect(w, r, batchPath(lit.Batch), http.StatusSeeOther)
		return
	}
	p := s.page(r)
	p.Form.ID = s.NewID()
	s.showList(w, r, http.StatusOK, p)
}

func (s *server) fillList(r *http.Request, p *page) error {
	if err := s.fillHome(r, p); err != nil {
		return err
	}
	var err error
	if p.Night, err = s.Reader.Night(r.Context()); err != nil {
		return err
	}
	batches, err := s.Reader.Batches(r.Context())
	for _, b := range batches {
		if !b.Closed.IsZero() {
			p.Closed = append(p.Closed, b)
		}
	}
	return err
}

func (s *server) batch(w http.ResponseWriter, r *http.Request) {
	p := s.page(r)
	p.Form.ID = s.NewID()
	s.showBatch(w, r, http.StatusOK, r.PathValue("id"), p)
}

func (s *server) showBatch(w http.ResponseWriter, r *http.Request, status int, id string, p page) {
	g, found, err := s.find(r, id)
	switch {
	case err != nil:
		s.broken(w, "read batch "+id, err)
	case !found && s.Papers != nil:
		s.showPapers(w, r, status, id, papersPage{page: p}) // closed, or never begun
	case !found:
		s.missing(w, r, id)
	default:
		p.Glance = g
		if p.Entered, err = s.entriesOf(r, id, newestEntries); err != nil {
			s.broken(w, "read the entries of batch "+id, err)
			return
		}
		s.recall(r, &p, id)
		s.show(w, status, "batch.html", p)
	}
}

func (s *server) fragment(w http.ResponseWriter, r *http.Request) {
	g, found, err := s.find(r, r.PathValue("id"))
	switch {
	case err != nil:
		s.broken(w, "read a glance", err)
	case !found:
		http.Error(w, must("err.batch", r.PathValue("id")), http.StatusNotFound)
	default:
		s.show(w, http.StatusOK, "glancenow.html", g)
	}
}

// alarm is where the link in a message leads.
func (s *server) alarm(w http.ResponseWriter, r *http.Request) {
	p := s.page(r)
	p.Form.ID = s.NewID()
	s.showAlarm(w, r, http.StatusOK, r.PathValue("number"), p)
}

func (s *server) showAlarm(w http.ResponseWriter, r *http.Request, status int, number string, p page) {
	alarms, err := s.Reader.Alarms(r.Context())
	if err != nil {
		s.broken(w, "read alarm "+number, err)
		return
	}
	for _, a := range alarms {
		if strconv.FormatInt(a.Number, 10) == number {
			p.Alarm = a
			if s.Cards != nil {
				if p.Cards, err = s.Deps.Cards(r.Context(), a); err != nil {
					s.broken(w, "read the cards of alarm "+number, err)
					return
				}
			}
			p.Back = p.Form.Strikes != ""
			s.recall(r, &p, "")
			s.show(w, status, "alarm.html", p)
			return
		}
	}
	p.Wrong = must("err.alarm.gone", number)
	s.showList(w, r, http.StatusNotFound, p)
}

func (s *server) showList(w http.ResponseWriter, r *http.Request, status int, p page) {
	if err := s.fillList(r, &p); err != nil {
		s.broken(w, "read the batches and alarms", err)
		return
	}
	s.recall(r, &p, "")
	s.show(w, status, "list.html", p)
}

func (s *server) find(r *http.Request, id string) (Glance, bool, error) {
	glances, err := s.Reader.Glances(r.Context())
	for _, g := range glances {
		if g.Batch == id {
			return g, true, nil
		}
	}
	return Glance{}, false, err
}

func (s *server) page(r *http.Request) page {
	p := page{Site: s.Site.Name, Path: r.URL.RequestURI(), Now: s.Clock.Now(), Rings: s.Ringing != nil, Done: r.URL.Query().Has("done")}
	if c, err := r.Cookie(initialsCookie); err == nil {
		p.Form.By, _ = url.QueryUnescape(c.Value) // a damaged cookie is no initials
	}
	if v, ok := signin.Of(r.Context()); ok {
		p.In, p.Guest = v.Name, v.Role == signin.Guest
		p.Form.By = v.Name
	}
	return p
}

// show renders into memory first, so that a fault in a template is an error page
// and not half a page.
func (s *server) show(w http.ResponseWriter, status int, name string, data any) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, data); err != nil {
		s.broken(w, "render "+name, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store") // a page from yesterday must not be mistaken for now
	w.WriteHeader(status)
	w.Write(b.Bytes()) // the phone may be gone; nobody is left to be told
}

func (s *server) missing(w http.ResponseWriter, r *http.Request, id string) {
	p := s.page(r)
	p.Wrong = must("err.batch", id)
	s.showList(w, r, http.StatusNotFound, p)
}

func (s *server) broken(w http.ResponseWriter, doing string, err error) {
	s.Log.Error("page failed", "doing", doing, "error", err)
	http.Error(w, must("err.inside.read"), http.StatusInternalServerError)
}

// must is text for keys written in Go.
func must(key string, args ...any) string {
	t, err := text(key, args...)
	if err != nil {
		return key
	}
	return t
}

package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"time"
)

// Phones is the list of those that ring by web push.
type Phones interface {
	Phones(context.Context) ([]Phone, error)

	// RemovePhone takes one off the list; by is who says so. The error is a
	// *process.Refusal when the person is wrong.
	RemovePhone(ctx context.Context, id int64, by string) error
}

// A Phone is one browser that asked to be rung.
type Phone struct {
	ID      int64
	Channel string
	Person  string // initials
	Name    string
	Added   time.Time
	Ended   time.Time // zero: it rings
	Why     string    // it ended
}

// Ringing is what the page knows of web push.
type Ringing struct {
	Phones    Phones
	Channels  []string // of kind push, by their names; empty: phones cannot be added
	Others    []Way    // the other channels, which need no https
	SenderKey string   // public key that browsers are added with, in base64
	Link      string   // address of the page, as phones call it

	Root        []byte // root certificate of an own authority, PEM; empty: there is none
	Fingerprint string // of the root
}

// A Way is a channel of the configuration.
type Way struct {
	Name string
	Kind string
}

// ringPage is what the page of phones is given beside what all pages are.
type ringPage struct {
	page
	Ringing *Ringing
	All     []Phone
}

// ringRoutes registers the pages about web push.
func (s *server) ringRoutes(mux *http.ServeMux) {
	if s.Ringing == nil {
		return
	}
	mux.HandleFunc("GET /phones", func(w http.ResponseWriter, r *http.Request) { s.showPhones(w, r, http.StatusOK, s.page(r)) })
	mux.HandleFunc("POST /phones/remove", s.removePhone)
	s.rootRoutes(mux)
}

func (s *server) showPhones(w http.ResponseWriter, r *http.Request, status int, p page) {
	all, err := s.Ringing.Phones.Phones(r.Context())
	if err != nil {
		s.broken(w, "read the phones", err)
		return
	}
	s.show(w, status, "phones.html", ringPage{page: p, Ringing: s.Ringing, All: all})
}

// removePhone takes a phone off the list.
func (s *server) removePhone(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := s.page(r)
	err := r.ParseForm()
	if err != nil {
		err = complaint(must("err.form"))
	}
	var id int64
	if err == nil {
		p.Form.By = typed(r.PostForm).By
		if id, err = strconv.ParseInt(r.PostForm.Get("phone"), 10, 64); err != nil {
			err = complaint(must("err.phone", r.PostForm.Get("phone")))
		}
	}
	if err == nil {
		if _, slipped := s.command(entry{By: p.Form.By}); slipped != nil {
			p.Marks = marks{r.URL.Path, slip{strconv.FormatInt(id, 10), slipped.Error()}}
			err = slipped
		}
	}
	if err == nil {
		err = s.Ringing.Phones.RemovePhone(r.Context(), id, p.Form.By)
	}
	if err == nil {
		remember(w, p.Form.By)
		http.Redirect(w, r, "/phones?done", http.StatusSeeOther)
		return
	}
	status := s.wrong(&p, "take a phone off the list", err)
	s.showPhones(w, r, status, p)
}

// rootRoutes hands out the root certificate and says how a phone takes it.
func (s *server) rootRoutes(mux *http.ServeMux) {
	if len(s.Ringing.Root) == 0 {
		return
	}
	mux.HandleFunc("GET /trust", func(w http.ResponseWriter, r *http.Request) {
		s.show(w, http.StatusOK, "trust.html", ringPage{page: s.page(r), Ringing: s.Ringing})
	})
	mux.HandleFunc("GET /root.crt", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/x-x509-ca-cert")
		w.Header().Set("Cache-Control", "no-store")
		w.Write(s.Ringing.Root) // the phone may be gone; nobody is left to be told
	})
}

// NewPlain returns the handler of the plain http door. It shows nothing of the
// batches and takes nothing: it hands out the root certificate, and sends
// everything else to the page by https.
func NewPlain(deps Deps) http.Handler {
	s := newServer(deps)
	mux := http.NewServeMux()
	s.rootRoutes(mux)
	s.iconRoutes(mux)
	mux.Handle("GET /static/", fresh(http.FileServerFS(static)))
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/trust", http.StatusSeeOther) })
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		at := url.URL{Path: r.URL.Path, RawPath: r.URL.RawPath, RawQuery: r.URL.RawQuery}
		http.Redirect(w, r, s.Ringing.Link+at.String(), http.StatusTemporaryRedirect)
	})
	return mux
}

package web

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/signin"
)

// signInPage is what the page of the sign-in is given beside what all pages are.
type signInPage struct {
	page
	To string // where to go then
}

// signInRoutes registers the way in and out. The gate that asks for it is package api's.
func (s *server) signInRoutes(mux *http.ServeMux) {
	if s.SignIn == nil {
		return
	}
	mux.HandleFunc("GET /sign-in", func(w http.ResponseWriter, r *http.Request) {
		s.show(w, http.StatusOK, "signin.html", signInPage{s.page(r), ours(r.URL.Query().Get("to"))})
	})
	mux.HandleFunc("POST /sign-in", s.enter)
	mux.HandleFunc("POST /sign-out", func(w http.ResponseWriter, r *http.Request) {
		http.SetCookie(w, signin.Cookie(r, "", 0))
		http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	})
	mux.HandleFunc("GET /guest/{secret}", func(w http.ResponseWriter, r *http.Request) {
		token, ends, err := s.SignIn.Admit(r.PathValue("secret"), signin.From(r))
		s.entered(w, r, signInPage{page: s.page(r), To: "/"}, token, ends, err)
	})
}

// enter takes the form of the sign-in.
func (s *server) enter(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	p := signInPage{page: s.page(r), To: "/"}
	if err := r.ParseForm(); err != nil {
		p.Wrong = must("err.form")
		s.show(w, http.StatusUnprocessableEntity, "signin.html", p)
		return
	}
	p.Form.By, p.To = strings.TrimSpace(r.PostForm.Get("by")), ours(r.PostForm.Get("to"))
	token, ends, err := s.SignIn.EnterKnown(r.Context(), p.Form.By, r.PostForm.Get("password"), signin.From(r), signin.KnownOf(r))
	if err == nil {
		remember(w, p.Form.By)
		http.SetCookie(w, signin.KnownCookie(r, s.SignIn.Known(p.Form.By)))
	}
	s.entered(w, r, p, token, ends, err)
}

// entered answers a sign-in.
func (s *server) entered(w http.ResponseWriter, r *http.Request, p signInPage, token string, ends time.Time, err error) {
	if err == nil {
		http.SetCookie(w, signin.Cookie(r, token, ends.Sub(s.SignIn.Now())))
		http.Redirect(w, r, p.To, http.StatusSeeOther)
		return
	}
	status, wrong := refusedEntry(err)
	p.Wrong = wrong
	s.show(w, status, "signin.html", p)
}

// refusedEntry is why somebody is not let in.
func refusedEntry(err error) (status int, words string) {
	if many, ok := errors.AsType[*signin.TooMany](err); ok {
		return http.StatusTooManyRequests, must("err.signin.wait", many.Wait.Round(time.Second))
	}
	switch {
	case errors.Is(err, signin.ErrFile):
		return http.StatusServiceUnavailable, must("err.signin.file")
	case errors.Is(err, signin.ErrBusy):
		return http.StatusServiceUnavailable, must("err.signin.busy")
	}
	return http.StatusUnauthorized, must("err.signin")
}

// ours is where to go after the sign-in: never to another site. Browsers read a backslash
// as a slash and leave out tabs and line breaks, so what has any is not ours.
func ours(to string) string {
	u, err := url.Parse(to) // refuses control characters
	if err != nil || u.Scheme != "" || u.Host != "" || !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, "\\") {
		return "/"
	}
	return to
}

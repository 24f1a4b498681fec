package api

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"flitch/cmd/flitch/internal/signin"
	"flitch/process/record"
)

// openToAll are the ways that need no sign-in: signs of life, the look of the page, the
// sign-in itself, links that carry their own proof, the root certificate, and the description of the API.
var openToAll = []string{"/healthz", "/sign-in", "/api/sign-in", "/ring.js", "/offline", "/api/phones/renewed", "/trust", "/root.crt", "/api/openapi.yaml"}

var openBelow = []string{"/static/", "/icon-", "/a/", "/guest/"}

// notForGuests are pages that guests have no business with.
var notForGuests = []string{"/phones", "/api/phones", "/heard", "/api/heard"}

// keptFromGuests reports those, and what tells what a batch cost.
func keptFromGuests(r *http.Request) bool {
	path := r.URL.Path
	return slices.Contains(notForGuests, path) || strings.HasSuffix(path, "/cost") || strings.HasSuffix(path, "/record.proof") || r.URL.Query().Get("for") == string(record.Self)
}

// isOpen reports a way that needs no sign-in.
func isOpen(path string) bool {
	return slices.Contains(openToAll, path) || slices.ContainsFunc(openBelow, func(p string) bool { return strings.HasPrefix(path, p) })
}

// admit lets in who has signed in, and tells the rest where to.
func (s *server) admit(next http.Handler) http.Handler {
	if s.SignIn == nil {
		return next
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		path := r.URL.Path
		if isOpen(path) {
			next.ServeHTTP(w, r)
			return
		}
		v, ok := s.SignIn.Who(signin.Token(r))
		if !ok && path == "/metrics" { // a Prometheus signs in nowhere: it has the secret of a guest link
			v, ok = signin.Visitor{Role: signin.Guest}, s.SignIn.Knows(signin.Token(r))
		}
		looks := r.Method == http.MethodGet || r.Method == http.MethodHead
		switch {
		case !ok:
			s.turnAway(w, r)
		case v.Role == signin.Guest && (!looks && path != "/sign-out" && path != "/degrees" || keptFromGuests(r)):
			s.refuse(w, http.StatusForbidden, "this guest link may look and change nothing", "sign in: "+"/sign-in")
		default:
			next.ServeHTTP(w, r.WithContext(signin.With(r.Context(), v)))
		}
	})
}

// turnAway sends a browser to the sign-in, and tells a program what is missing.
func (s *server) turnAway(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	if r.Method != http.MethodGet || !strings.Contains(r.Header.Get("Accept"), "text/html") {
		w.Header().Set("WWW-Authenticate", "Bearer")
		s.refuse(w, http.StatusUnauthorized, "nobody has signed in", "flitch sign-in --by T.V., or /sign-in on the page")
		return
	}
	if r.Header.Get("Sec-Fetch-Site") == "cross-site" && r.Header.Get("Sec-Fetch-Mode") == "navigate" {
		// A link in a mail read in the browser: a strict cookie stays behind. Asked again by
		// our own page, it comes along.
		w.Header().Set("Refresh", "0")
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		fmt.Fprintln(w, "one moment")
		return
	}
	http.Redirect(w, r, "/sign-in?to="+url.QueryEscape(r.URL.RequestURI()), http.StatusSeeOther)
}

// A signInBody is who wants in.
type signInBody struct {
	By       string `json:"by"` // initials
	Password string `json:"password"`
}

// signIn is the way in for commands.
func (s *server) signIn(w http.ResponseWriter, r *http.Request) {
	var body signInBody
	if status, err := readBody(w, r, &body); err != nil {
		s.refuse(w, status, err.Error(), `send {"by":"T.V.","password":"..."}`)
		return
	}
	if s.SignIn == nil {
		s.refuse(w, http.StatusUnprocessableEntity, "nobody has to sign in here", "any command, without a sign-in")
		return
	}
	token, ends, err := s.SignIn.Enter(r.Context(), body.By, body.Password, signin.From(r))
	if err != nil {
		s.refuse(w, enterStatus(w, err), err.Error(), "flitch password "+body.By+" sets one, on the machine of the daemon")
		return
	}
	s.reply(w, http.StatusOK, struct {
		Token string `json:"token"`
		Ends  string `json:"ends"`
	}{token, ends.UTC().Format("2006-01-02T15:04:05Z")})
}

// enterStatus is the status of a refused sign-in, and says when to try again.
func enterStatus(w http.ResponseWriter, err error) int {
	if many, ok := errors.AsType[*signin.TooMany](err); ok {
		w.Header().Set("Retry-After", strconv.Itoa(int(many.Wait.Seconds())+1))
		return http.StatusTooManyRequests
	}
	if errors.Is(err, signin.ErrBusy) || errors.Is(err, signin.ErrFile) {
		return http.StatusServiceUnavailable
	}
	return http.StatusUnauthorized
}

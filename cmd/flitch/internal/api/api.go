package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"

	"flitch/cmd/flitch/internal/web"
	"flitch/process"
)

// maxDrawings is how many charts and records are made at once. They read whole
// batches; more at a time would keep the small machine from its real work.
const maxDrawings = 2

type server struct {
	Deps
	drawing chan struct{} // one token for each record or chart being made
	uploads chan struct{} // one token for each large body that comes in
}

// New returns the handler of everything flitch answers over HTTP, with the guard
// around it.
func New(deps Deps) http.Handler {
	s := &server{Deps: deps, drawing: make(chan struct{}, maxDrawings), uploads: make(chan struct{}, maxUploads)}
	mux := http.NewServeMux()
	for _, one := range s.routes() {
		mux.HandleFunc(one.pattern, one.handle)
	}
	mux.HandleFunc("/api/", s.unknown)
	mux.HandleFunc("GET /batches/{id}/{file}", s.file)
	s.answerPath(mux)
	if s.Metrics != nil {
		mux.Handle("GET /metrics", s.Metrics)
	}
	if s.Page != nil {
		mux.Handle("/", s.upload(s.Page.ServeHTTP))
	}
	return s.guard(s.admit(web.Degrees(mux)))
}

// NewGuarded puts the same guard around another handler, for a second door.
func NewGuarded(deps Deps, inner http.Handler) http.Handler {
	s := &server{Deps: deps}
	return s.guard(inner)
}

// answer serves a list. An empty one is [], not null.
func answer[T any](s *server, list func(context.Context) ([]T, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		items, err := list(r.Context())
		if err != nil {
			s.fail(w, r, err)
			return
		}
		if items == nil {
			items = []T{}
		}
		s.reply(w, http.StatusOK, items)
	}
}

func (s *server) batch(w http.ResponseWriter, r *http.Request) {
	b, err := s.Reader.Batch(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, b)
}

// like is the request that would begin a batch like another one.
func (s *server) like(w http.ResponseWriter, r *http.Request) {
	like, err := s.Batches.Like(r.Context(), r.PathValue("id"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, like)
}

func (s *server) health(w http.ResponseWriter, r *http.Request) {
	var faults []Fault
	if s.Health != nil {
		faults = s.Health(r.Context())
	}
	status := http.StatusOK
	if len(faults) > 0 {
		status = http.StatusServiceUnavailable
	}
	s.reply(w, status, struct {
		OK     bool    `json:"ok"`
		Faults []Fault `json:"faults,omitempty"`
	}{len(faults) == 0, faults})
}

// refusal is the body of every answer that says no.
type refusal struct {
	Error string `json:"error"`
	Hint  string `json:"hint,omitempty"`
}

func (s *server) refuse(w http.ResponseWriter, status int, what, hint string) {
	s.reply(w, status, refusal{what, hint})
}

// fail answers with what the person did wrong, or that we did.
func (s *server) fail(w http.ResponseWriter, r *http.Request, err error) {
	var no *process.Refusal
	switch {
	case errors.As(err, &no) && no.NotFound:
		s.refuse(w, http.StatusNotFound, no.What, no.Hint)
	case errors.As(err, &no) && no.NotNow:
		s.refuse(w, http.StatusServiceUnavailable, no.What, no.Hint)
	case errors.As(err, &no):
		s.refuse(w, http.StatusUnprocessableEntity, no.What, no.Hint)
	default:
		s.Log.Error("request failed", "method", r.Method, "path", r.URL.Path, "error", err)
		s.refuse(w, http.StatusInternalServerError, "something went wrong inside flitch", "the log says more; try again")
	}
}

func (s *server) reply(w http.ResponseWriter, status int, body any) {
	text, err := json.Marshal(body)
	if err != nil {
		s.Log.Error("answer could not be written as JSON", "error", err)
		status, text = http.StatusInternalServerError, []byte(`{"error":"something went wrong inside flitch"}`)
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	w.Write(append(text, '\n')) // the other side may be gone; nobody is left to be told
}

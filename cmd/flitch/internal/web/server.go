package web

import (
	"embed"
	"html/template"
	"net/http"
)

//go:embed static
var static embed.FS

//go:embed *.html
var pages embed.FS

// server answers the page's requests.
type server struct {
	Deps
	pages *template.Template
}

// New returns the handler of the page. It changes state only on POST; the
// protection against other sites' forms, and Degrees, are put around it by package api.
func New(deps Deps) http.Handler {
	deps.darkroom = make(chan struct{}, 1)
	house, other := newServer(deps), deps
	other.Site.Fahrenheit = !deps.Site.Fahrenheit
	asHouse, asOther := house.routes(), newServer(other).routes()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if For(r.Context(), deps.Site) == deps.Site {
			asHouse.ServeHTTP(w, r)
			return
		}
		asOther.ServeHTTP(w, r)
	})
}

func (s *server) routes() *http.ServeMux {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.list)
	mux.HandleFunc("GET /batches", s.list)
	mux.HandleFunc("GET /alarms", s.list) // the address in summaries
	mux.HandleFunc("GET /batches/{id}", s.batch)
	mux.HandleFunc("GET /batches/{id}/glance", s.fragment)
	mux.HandleFunc("GET /batches/{id}/chart", s.charts)
	mux.HandleFunc("GET /alarms/{number}", s.alarm)
	mux.HandleFunc("POST /acknowledge", s.form(s.acknowledge))
	mux.HandleFunc("POST /turned", s.form(s.turned))
	mux.HandleFunc("POST /stage", s.form(s.stage))
	mux.HandleFunc("POST /close", s.form(s.close))
	mux.HandleFunc("POST /reading", s.form(s.reading))
	mux.HandleFunc("POST /note", s.form(s.note))
	mux.HandleFunc("POST /unit", s.form(s.unit))
	mux.HandleFunc("POST /duty", s.form(s.duty))
	mux.HandleFunc("POST /shelve", s.form(s.shelve))
	mux.HandleFunc("POST /judge", s.form(s.judge))
	mux.HandleFunc("POST /degrees", s.chooseDegrees)
	mux.Handle("GET /static/", fresh(http.FileServerFS(static)))
	s.homeRoutes(mux)
	s.workerRoutes(mux)
	s.iconRoutes(mux)
	s.probeRoutes(mux)
	s.placeRoutes(mux)
	s.ringRoutes(mux)
	s.heardRoutes(mux)
	s.signInRoutes(mux)
	s.reckonRoutes(mux)
	s.papersRoutes(mux)
	s.beginRoutes(mux)
	s.entryRoutes(mux)
	return mux
}

func newServer(deps Deps) *server {
	s := &server{Deps: deps}
	degreed := template.FuncMap{"degreed": s.degreed}
	s.pages = template.Must(template.New("").Funcs(s.words()).Funcs(beginWords()).Funcs(paperWords()).Funcs(s.entryWordFunctions()).Funcs(degreed).ParseFS(pages, "*.html"))
	return s
}

// fresh lets the browser keep a file but ask each time, so that a new version of
// flitch never meets an old script.
func fresh(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Cache-Control", "no-cache")
		h.ServeHTTP(w, r)
	})
}

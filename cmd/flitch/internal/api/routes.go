package api

import (
	"net/http"
	"strings"
)

// A route is one thing that can be asked, as the mux writes it.
type route struct {
	pattern string
	handle  http.HandlerFunc
}

// routes is all of the JSON API: what is not in it is not served, and openapi.yaml has
// each of it (a test says which one is missing).
func (s *server) routes() []route {
	list := []route{
		{"POST /api/commands", s.command},
		{"GET /api/batches", answer(s, s.Reader.Batches)},
		{"GET /api/batches/{id}", s.batch},
		{"GET /api/batches/{id}/like", s.like},
		{"GET /api/probes", answer(s, s.Reader.Probes)},
		{"GET /api/places", answer(s, s.Reader.Places)},
		{"POST /api/probes", s.addProbe},
		{"GET /api/alarms", answer(s, s.Reader.Alarms)},
		{"GET /api/glance", answer(s, s.Reader.Glances)},
		{"GET /api/events", s.events},
		{"GET /api/heard", s.heard},
		{"POST /api/sign-in", s.signIn},
		{"GET /api/reckon", s.calculators},
		{"GET /api/reckon/{name}", s.reckon},
		{"GET /api/openapi.yaml", s.described},
		{"GET /healthz", s.health},
	}
	if s.Phones != nil {
		list = append(list,
			route{"GET /api/phones", answer(s, s.Phones.ListPhones)},
			route{"POST /api/phones", s.addPhone},
			route{"POST /api/phones/renewed", s.renewPhone},
			route{"POST /api/phones/remove", s.removePhone})
	}
	if s.Import != nil {
		list = append(list, route{"POST /api/import", s.importRows}, route{"POST /api/import/done", s.importDone})
	}
	if s.Papers != nil {
		list = append(list, route{"POST /api/batches/{id}/photos", s.upload(s.notePhoto)}, route{"GET /api/batches/{id}/ready-text", s.readyText})
	}
	return list
}

// unknown answers what is in no route.
func (s *server) unknown(w http.ResponseWriter, r *http.Request) {
	var known []string
	for _, one := range s.routes() {
		known = append(known, one.pattern)
	}
	s.refuse(w, http.StatusNotFound, "there is no "+r.Method+" "+r.URL.Path, "known: "+strings.Join(known, ", "))
}

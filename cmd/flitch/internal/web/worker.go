package web

import (
	"encoding/json"
	"net/http"
)

// workerRoutes registers the script that stays in the phone, and the page it shows when
// there is no network. Both are for anybody: they tell nothing of the house.
func (s *server) workerRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /ring.js", s.worker)
	mux.HandleFunc("GET /offline", func(w http.ResponseWriter, r *http.Request) { s.show(w, http.StatusOK, "offline.html", nil) })
}

// worker serves the script that stays in the phone, with its texts in front, because a
// worker has no page to read them from. It lies at the top, because it speaks for no page
// above it. Its bytes change with any text, and the browser then takes the new one.
func (s *server) worker(w http.ResponseWriter, r *http.Request) {
	said, err := json.Marshal(map[string]string{"gone": must("worker.gone"), "gone_more": must("worker.gone.more")})
	script, problem := static.ReadFile("static/ring.js")
	if err != nil || problem != nil {
		http.NotFound(w, r) // both are part of the program
		return
	}
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	w.Write(append([]byte("const said = "+string(said)+";\n"), script...)) // the phone may be gone; nobody is left to be told
}

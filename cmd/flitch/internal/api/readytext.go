package api

import (
	"net/http"
	"net/url"

	"flitch/process"
)

// ReadyPath is where the ready text of a corrective action is, for a batch at a path of
// this interface.
func ReadyPath(batch, about string) string {
	return batch + "/ready-text?about=" + url.QueryEscape(about)
}

// readyText answers with the ready text of a corrective action.
func (s *server) readyText(w http.ResponseWriter, r *http.Request) {
	about := r.URL.Query().Get("about")
	if about == "" {
		s.fail(w, r, &process.Refusal{What: "a ready text about nothing", Hint: "ready-text?about=C2, the number of an alarm, or a clock"})
		return
	}
	p, err := s.Papers.Papers(r.Context(), r.PathValue("id"), about)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, p.Ready)
}

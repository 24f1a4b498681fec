package api

import (
	"fmt"
	"net/http"

	"flitch/cmd/flitch/internal/config"
)

// heard tells what arrives by MQTT, used or not.
func (s *server) heard(w http.ResponseWriter, r *http.Request) {
	h, err := s.Reader.Heard(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, h)
}

// A probeBody is a probe as it is sent.
type probeBody struct {
	config.NewProbe
	By string `json:"by"` // initials
}

// addProbe writes a probe into the configuration. flitch starts anew with it a moment
// after the answer.
func (s *server) addProbe(w http.ResponseWriter, r *http.Request) {
	var body probeBody
	if status, err := readBody(w, r, &body); err != nil {
		s.refuse(w, status, err.Error(), `send one JSON object with the keys of [[probe]] and by`)
		return
	}
	if err := s.AddProbe(r.Context(), body.NewProbe, body.By); err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, struct {
		OK      bool   `json:"ok"`
		Message string `json:"message"`
	}{true, fmt.Sprintf("probe %s is in the configuration; flitch starts anew with it now", body.Name)})
}

package api

import (
	"fmt"
	"net/http"
)

// A NewPhone is a browser that asks to be rung by web push. AddPhone of Deps
// judges it.
type NewPhone struct {
	Channel      string       `json:"channel"` // as in the configuration
	By           string       `json:"by"`      // initials of whose phone it is
	Name         string       `json:"name"`    // what the phone is called in the house
	Subscription Subscription `json:"subscription"`
}

// A Subscription is what the browser gave the page (W3C Push API,
// PushSubscriptionJSON).
type Subscription struct {
	Endpoint string   `json:"endpoint"`
	Expires  *float64 `json:"expirationTime"` // ms since 1970; nearly always null, and 410 tells in time
	Keys     struct {
		Public string `json:"p256dh"` // base64
		Secret string `json:"auth"`   // base64
	} `json:"keys"`
}

// addPhone takes a browser that asks to be rung.
func (s *server) addPhone(w http.ResponseWriter, r *http.Request) {
	var n NewPhone
	if status, err := readBody(w, r, &n); err != nil {
		s.refuse(w, status, err.Error(), "press the button on the page of flitch, in the browser of the phone")
		return
	}
	id, err := s.AddPhone(r.Context(), n)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, struct {
		OK      bool   `json:"ok"`
		Message string `json:"message"`
		Phone   int64  `json:"phone"`
	}{true, fmt.Sprintf("phone %d rings for %s", id, n.Channel), id})
}

package api

import (
	"context"
	"fmt"
	"net/http"
	"time"
)

// Phones is the list of browsers that are rung by web push. Its errors are a
// *process.Refusal when the person, or the page, is wrong.
type Phones interface {
	AddPhone(context.Context, NewPhone) (int64, error)
	RenewPhone(context.Context, Renewal) (int64, error)
	ListPhones(context.Context) ([]Phone, error)
	RemovePhone(ctx context.Context, id int64, by string) error
}

// A Phone is a browser on the list, without what only its push service may know.
type Phone struct {
	ID      int64     `json:"phone"`
	Channel string    `json:"channel"`
	Person  string    `json:"by"` // initials of whose phone it is
	Name    string    `json:"name"`
	Added   time.Time `json:"added"`
	Ended   time.Time `json:"ended,omitzero"` // it rings no more; zero: it does
	Why     string    `json:"why,omitempty"`
}

// A NewPhone is a browser that asks to be rung by web push. AddPhone judges it.
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
	id, err := s.Phones.AddPhone(r.Context(), n)
	s.replyPhone(w, r, id, fmt.Sprintf("phone %d rings for %s", id, n.Channel), err)
}

// A Renewal is the new subscription of a browser that is on the list. Its old address,
// which nobody else knows, says which it is.
type Renewal struct {
	Old          string       `json:"old"`
	Subscription Subscription `json:"subscription"`
}

// renewPhone takes the new subscription of a browser.
func (s *server) renewPhone(w http.ResponseWriter, r *http.Request) {
	var n Renewal
	if status, err := readBody(w, r, &n); err != nil {
		s.refuse(w, status, err.Error(), "press the button on the page of flitch, in the browser of the phone")
		return
	}
	id, err := s.Phones.RenewPhone(r.Context(), n)
	s.replyPhone(w, r, id, fmt.Sprintf("phone %d rings on", id), err)
}

// A removeBody names a phone that is to ring no more.
type removeBody struct {
	Phone int64  `json:"phone"`
	By    string `json:"by"` // initials
}

// removePhone takes a phone off the list.
func (s *server) removePhone(w http.ResponseWriter, r *http.Request) {
	var body removeBody
	if status, err := readBody(w, r, &body); err != nil {
		s.refuse(w, status, err.Error(), `send {"phone":3,"by":"T.V."}`)
		return
	}
	err := s.Phones.RemovePhone(r.Context(), body.Phone, body.By)
	s.replyPhone(w, r, body.Phone, fmt.Sprintf("phone %d rings no more", body.Phone), err)
}

func (s *server) replyPhone(w http.ResponseWriter, r *http.Request, id int64, message string, err error) {
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.reply(w, http.StatusOK, struct {
		OK      bool   `json:"ok"`
		Message string `json:"message"`
		Phone   int64  `json:"phone"`
	}{true, message, id})
}

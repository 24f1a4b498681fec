package push

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"flitch/alerts"
)

// hookBody is what an HTTP hook receives. Message is the same in every repeat of
// one message, Alarm in every message of one alarm.
type hookBody struct {
	Alarm   int64            `json:"alarm,omitempty"`
	Message int64            `json:"message,omitempty"`
	Kind    alerts.EventKind `json:"kind"`
	Entry   string           `json:"entry,omitempty"`
	Level   string           `json:"level"`
	Title   string           `json:"title"`
	Text    string           `json:"text"`
}

func hook(c *Channel, s Settings) error {
	if err := keepAddress(c, s); err != nil {
		return err
	}
	c.notifier = &poster{client: newClient(s), headers: s.Headers, write: func(m alerts.Message, subject, body string) letter {
		return letter{url: s.URL, content: hookBody{Alarm: m.Alarm, Message: m.ID, Kind: m.Kind, Entry: m.Entry,
			Level: m.Level.String(), Title: subject, Text: body}}
	}}
	return nil
}

// keepAddress checks an address that is itself the secret, and keeps it and its
// pieces out of errors.
func keepAddress(c *Channel, s Settings) error {
	if err := need("url", s.URL); err != nil {
		return err
	}
	u, err := webAddress(s.URL)
	if err != nil {
		return fmt.Errorf("url %w", err)
	}
	c.secrets = append(append(c.secrets, s.URL), parts(u)...)
	return nil
}

// webAddress never repeats what it refuses: the address itself may hold a secret.
func webAddress(text string) (*url.URL, error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, errors.New("is not an http or https address")
	}
	return u, nil
}

// parts are the pieces of an address that may be a token: another program may
// quote one of them alone. Short ones are words, but for a password.
func parts(u *url.URL) (found []string) {
	pieces := strings.Split(u.Path, "/")
	for _, values := range u.Query() {
		pieces = append(pieces, values...)
	}
	password, ok := u.User.Password()
	if ok && password != "" {
		found = append(found, password) // however short
	} else {
		pieces = append(pieces, u.User.Username())
	}
	for _, piece := range pieces {
		if len(piece) >= shortestToken {
			found = append(found, piece)
		}
	}
	return found
}

// newClient makes a client of its own for a channel. Connections are not kept:
// alarms are rare, and a connection kept for a week is a dead one.
func newClient(s Settings) *http.Client {
	transport := &http.Transport{
		Proxy:             http.ProxyFromEnvironment,
		DisableKeepAlives: true,
		TLSClientConfig:   &tls.Config{RootCAs: s.Roots, MinVersion: tls.VersionTLS12},
	}
	return &http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error {
		return http.ErrUseLastResponse // following would turn the POST into a GET and look like success
	}}
}

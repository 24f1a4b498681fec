package push

import (
	"context"
	"crypto/tls"
	"errors"
	"net/http"
	"net/url"
	"strings"

	notifyhttp "github.com/nikoksr/notify/service/http"

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

// hookNotifier posts one JSON object to one address.
type hookNotifier struct {
	settings Settings
	client   *http.Client
}

func hook(c *Channel, s Settings) error {
	if err := need("url", s.URL); err != nil {
		return err
	}
	u, err := url.Parse(s.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return errors.New("url is not an http or https address") // the address itself may hold a secret
	}
	c.secrets = append(c.secrets, s.URL)
	c.secrets = append(c.secrets, parts(u)...)
	c.notifier = &hookNotifier{settings: s, client: newClient(s)}
	return nil
}

// parts are the pieces of an address that may be a token: another program may
// quote one of them alone. Short ones are words.
func parts(u *url.URL) (found []string) {
	pieces := strings.Split(u.Path, "/")
	for _, values := range u.Query() {
		pieces = append(pieces, values...)
	}
	if password, ok := u.User.Password(); ok {
		pieces = append(pieces, password)
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

// Send posts the message. The library's service is made afresh every time,
// because it writes to its headers while sending.
func (h *hookNotifier) Send(ctx context.Context, subject, body string) error {
	p := parcelOf(ctx)
	headers := http.Header{"User-Agent": {"flitch"}}
	for name, value := range h.settings.Headers {
		headers.Set(name, value)
	}
	service := notifyhttp.New()
	service.WithClient(h.client)
	service.AddReceivers(&notifyhttp.Webhook{
		ContentType: "application/json; charset=utf-8", Header: headers, Method: http.MethodPost, URL: h.settings.URL,
		BuildPayload: func(string, string) any {
			m := p.message
			return hookBody{Alarm: m.Alarm, Message: m.ID, Kind: m.Kind, Entry: m.Entry,
				Level: m.Level.String(), Title: subject, Text: body}
		},
	})
	service.PostSend(func(_ *http.Request, resp *http.Response) error {
		if resp.StatusCode < 200 || resp.StatusCode > 299 {
			return refused(resp)
		}
		p.receipt = "answered " + statusText(resp.StatusCode)
		return nil
	})
	return service.Send(ctx, subject, body)
}

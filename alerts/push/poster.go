package push

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"

	notifyhttp "github.com/nikoksr/notify/service/http"

	"flitch/alerts"
)

// mostAnswer bounds what is read of an answer, bytes; the receipt is in its first
// lines.
const mostAnswer = 64 << 10

// A letter is one request: where it goes and what is in it.
type letter struct {
	method  string // empty: POST
	url     string
	content any // sent as JSON; url.Values as a form
}

// A poster sends one HTTP request for each message, through the library's HTTP
// service.
//
// The services that speak plain HTTP all go this way and not through the
// library's own package for each: those need one more client library each, and
// keep the status and the time to wait for themselves.
type poster struct {
	client  *http.Client
	headers map[string]string
	write   func(m alerts.Message, subject, body string) letter
	taken   func(answer string) (receipt string, err error) // looks at an answer of 2xx; nil: the status is enough
}

// Send posts the message. The library's service is made afresh every time,
// because it writes to its headers while sending.
func (p *poster) Send(ctx context.Context, subject, body string) error {
	parcel := parcelOf(ctx)
	l := p.write(parcel.message, subject, body)
	service := notifyhttp.New()
	service.WithClient(p.client)
	service.AddReceivers(l.webhook(p.headers))
	if _, form := l.content.(url.Values); form {
		service.Serializer = asForm{}
	}
	service.PostSend(func(_ *http.Request, resp *http.Response) (err error) {
		if resp.StatusCode < 200 || resp.StatusCode > 299 {
			return refused(resp)
		}
		parcel.receipt, err = p.receipt(resp)
		return err
	})
	return service.Send(ctx, subject, body)
}

// webhook is the letter as the library wants it.
func (l letter) webhook(own map[string]string) *notifyhttp.Webhook {
	headers := http.Header{"User-Agent": {"flitch"}}
	for name, value := range own {
		headers.Set(name, value)
	}
	hook := &notifyhttp.Webhook{
		ContentType: "application/json; charset=utf-8", Header: headers, Method: l.method, URL: l.url,
		BuildPayload: func(string, string) any { return l.content },
	}
	if hook.Method == "" {
		hook.Method = http.MethodPost
	}
	if _, form := l.content.(url.Values); form {
		hook.ContentType = "application/x-www-form-urlencoded"
	}
	return hook
}

// receipt is what the other side said. A page of HTML is not the answer of one of
// these services but that of a hotspot or a proxy in between, which wants somebody
// to sign in: nobody was told.
func (p *poster) receipt(resp *http.Response) (string, error) {
	status := "answered " + statusText(resp.StatusCode)
	if p.taken == nil {
		return status, nil
	}
	raw, _ := io.ReadAll(io.LimitReader(resp.Body, mostAnswer)) // it was taken; what there is of the receipt is enough
	answer := strings.TrimSpace(string(raw))
	if strings.HasPrefix(answer, "<") {
		return "", &alerts.SendError{Retry: true, Text: status + " with a page for people: something in between wants a sign-in"}
	}
	said, err := p.taken(answer)
	if err != nil || said == "" {
		return status, err
	}
	return status + ": " + said, nil
}

// field takes the receipt from the field of that name in a JSON answer. Without
// one the status has to do: it has already said that the message was taken.
func field(name string) func(string) (string, error) {
	return func(answer string) (string, error) {
		var fields map[string]any
		if json.Unmarshal([]byte(answer), &fields) != nil || fields[name] == nil {
			return "", nil
		}
		return fmt.Sprint(name, " ", fields[name]), nil
	}
}

// asForm writes url.Values as a browser would.
type asForm struct{}

// Marshal implements the library's Serializer.
func (asForm) Marshal(_ string, payload any) ([]byte, error) {
	values, ok := payload.(url.Values)
	if !ok {
		return nil, fmt.Errorf("%T is no form", payload)
	}
	return []byte(values.Encode()), nil
}

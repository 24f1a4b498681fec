package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"

	"flitch/cmd/flitch/internal/config"
)

// buildHeartbeat prepares the heartbeat; there is none without an address.
func (a *App) buildHeartbeat(version string) {
	c := a.cfg.Heartbeat
	if !c.URL.IsSet() {
		return
	}
	a.proof = &proof{app: a, version: version, patience: c.Deadline}
	out := &beatSender{conf: c, client: &http.Client{
		Timeout: c.Deadline,
		// Elsewhere the address and the token are nobody's business.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}}
	a.heartbeat = &heartbeat{clock: a.clock, every: c.Every, proof: a.proof.prove, send: out.send, log: a.log}
}

// A beatSender sends beats by HTTP. Each attempt has its own deadline.
type beatSender struct {
	conf   config.Heartbeat
	client *http.Client
}

func (s *beatSender) send(ctx context.Context, b beat) error {
	request, err := s.request(ctx, b)
	if err != nil {
		return err
	}
	answer, err := s.client.Do(request)
	if err != nil {
		return withoutAddress(err)
	}
	defer answer.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 64<<10)) // so that the connection can be used again
	if answer.StatusCode < 200 || answer.StatusCode > 299 {
		return fmt.Errorf("answered %s", answer.Status)
	}
	return nil
}

func (s *beatSender) request(ctx context.Context, b beat) (*http.Request, error) {
	var body io.Reader
	if s.conf.Method == http.MethodPost {
		text, err := json.Marshal(b)
		if err != nil {
			return nil, fmt.Errorf("writing the beat: %w", err)
		}
		body = bytes.NewReader(text)
	}
	request, err := http.NewRequestWithContext(ctx, s.conf.Method, s.conf.URL.Reveal(), body)
	if err != nil {
		return nil, errors.New("the address of the heartbeat cannot be used") // err would show it
	}
	if body != nil {
		request.Header.Set("Content-Type", "application/json")
	}
	if s.conf.Bearer.IsSet() {
		request.Header.Set("Authorization", "Bearer "+s.conf.Bearer.Reveal())
	}
	return request, nil
}

// withoutAddress takes the address out of an error of the HTTP client: it may
// hold a token.
func withoutAddress(err error) error {
	var wrapped *url.Error
	if errors.As(err, &wrapped) {
		return wrapped.Err
	}
	return err
}

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"time"
)

// How long an answer may take, and how large it may be. A record of a week is
// drawn while we wait, and holds every reading: proposals.
const (
	patience       = 20 * time.Second
	recordPatience = 5 * time.Minute
	maxAnswer      = 16 << 20
)

// get asks for JSON.
func (d *daemon) get(path string, into any) error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	body, err := d.open(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	defer body.Close()
	if err := json.NewDecoder(io.LimitReader(body, maxAnswer)).Decode(into); err != nil {
		return d.strange(fmt.Sprintf("an answer that is not JSON: %v", err))
	}
	return nil
}

// post sends JSON, and sends it once more when no answer came: the identity in
// the order keeps it from being taken twice.
func (d *daemon) post(path string, order, into any) error {
	text, err := json.Marshal(order)
	if err != nil {
		return fmt.Errorf("writing the command: %w", err)
	}
	err = d.postOnce(path, text, into)
	if _, ok := errors.AsType[*url.Error](err); ok {
		err = d.postOnce(path, text, into)
	}
	return d.silent(err, true)
}

func (d *daemon) postOnce(path string, text []byte, into any) error {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	body, err := d.do(ctx, http.MethodPost, path, text)
	if err != nil {
		return err
	}
	defer body.Close()
	if err := json.NewDecoder(io.LimitReader(body, maxAnswer)).Decode(into); err != nil {
		return d.strange(fmt.Sprintf("an answer that is not JSON: %v", err))
	}
	return nil
}

// open sends a request that changes nothing, and returns the body of a good
// answer.
func (d *daemon) open(ctx context.Context, method, path string, text []byte) (io.ReadCloser, error) {
	body, err := d.do(ctx, method, path, text)
	return body, d.silent(err, false)
}

func (d *daemon) do(ctx context.Context, method, path string, text []byte) (io.ReadCloser, error) {
	request, err := http.NewRequestWithContext(ctx, method, d.base+path, bytes.NewReader(text))
	if err != nil {
		return nil, fmt.Errorf("asking the daemon: %w", err)
	}
	if text != nil {
		request.Header.Set("Content-Type", "application/json")
	}
	if token := d.session(); token != "" {
		request.Header.Set("Authorization", "Bearer "+token)
	}
	answer, err := d.client.Do(request)
	if err != nil {
		return nil, err
	}
	if answer.StatusCode == http.StatusOK {
		return answer.Body, nil
	}
	defer answer.Body.Close()
	return nil, d.refused(answer)
}

// refused passes on what the daemon says, with its hint.
func (d *daemon) refused(answer *http.Response) error {
	var said struct {
		Error string `json:"error"`
		Hint  string `json:"hint"`
	}
	err := json.NewDecoder(io.LimitReader(answer.Body, maxAnswer)).Decode(&said)
	if err != nil || said.Error == "" {
		return d.strange(answer.Status)
	}
	return problem(said.Hint, "%s", said.Error)
}

func (d *daemon) strange(what string) error {
	return problem("--url with the address of the page of flitch", "%s gave %s", d.name, what)
}

// silent explains that no answer came. Whether a command was taken is then only
// known if we never got through.
func (d *daemon) silent(err error, command bool) error {
	lost, ok := errors.AsType[*url.Error](err)
	if !ok {
		return err
	}
	dial, ok := errors.AsType[*net.OpError](lost)
	if ok && dial.Op == "dial" || !command {
		return problem("flitch run, or --url if it listens elsewhere", "no answer from %s: %v", d.name, lost.Err)
	}
	return problem("flitch batch show, to see whether it was taken, before you say it again",
		"no answer from %s: %v; the command may have been taken", d.name, lost.Err)
}

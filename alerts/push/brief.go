package push

import (
	"io"
	"net/http"
)

// mostHeard bounds an answer, bytes, for the libraries that read one to its end: a server
// that never stops would fill the memory until the deadline. No service says so much.
const mostHeard = 1 << 20

// brief cuts answers off.
type brief struct{ base http.RoundTripper }

// RoundTrip implements http.RoundTripper.
func (b brief) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := b.base.RoundTrip(r)
	if err == nil {
		resp.Body = cut{io.LimitReader(resp.Body, mostHeard), resp.Body}
	}
	return resp, err
}

type cut struct {
	io.Reader
	io.Closer
}

package api

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"
)

// How long a body may take to come, and a part of an answer to go. Proposals: a form over a
// bad radio link takes seconds, a photo of 12 MB at 50 KB/s four minutes.
const (
	bodyWithin   = 30 * time.Second
	uploadWithin = 5 * time.Minute
	uploadOver   = 128 << 10 // bytes; what is longer, or does not say, is an upload
	pieceWithin  = 30 * time.Second
	pieceOf      = 32 << 10 // bytes of an answer that have that long
)

// maxUploads is how many pictures come in at once: each is in memory until it is made small.
const maxUploads = 3

// pace puts an end to a request whose body does not end and to an answer that nobody reads.
// The server's own timeouts cannot: they would end the stream of events as well, and a long
// record on a slow line. A compressed body is not taken: how large it is would be known only
// when it is.
func (s *server) pace(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		out := &paced{ResponseWriter: w, control: http.NewResponseController(w), wall: s.Wall}
		defer out.wait() // what is still to be sent
		if kind := r.Header.Get("Content-Encoding"); kind != "" && !strings.EqualFold(kind, "identity") {
			s.refuse(out, http.StatusUnsupportedMediaType, "a body in "+kind+" is not taken", "send it as it is")
			return
		}
		if r.ContentLength != 0 && r.Body != nil {
			within := bodyWithin
			if isUpload(r) {
				within = uploadWithin
			}
			_ = out.control.SetReadDeadline(s.Wall.Now().Add(within)) // a recorder of a test has none
			r.Body = &ending{r.Body, out.control}
		}
		next.ServeHTTP(out, r)
	})
}

// isUpload reports a large body; of strangers none is.
func isUpload(r *http.Request) bool {
	return (r.ContentLength < 0 || r.ContentLength > uploadOver) && !isOpen(r.URL.Path)
}

// upload lets a large body come when few others do, or says after a while that it cannot.
func (s *server) upload(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if isUpload(r) {
			select {
			case s.uploads <- struct{}{}:
				defer func() { <-s.uploads }()
			case <-r.Context().Done():
				return
			case <-s.Wall.After(bodyWithin):
				s.refuse(w, http.StatusServiceUnavailable, fmt.Sprintf("%d large uploads are under way", maxUploads), "try again in some minutes")
				return
			}
		}
		next(w, r)
	}
}

// ending is a body that takes its deadline back at its end: the server goes on to listen
// whether the other side has gone, and would take the deadline for that.
type ending struct {
	io.ReadCloser
	control *http.ResponseController
}

func (e *ending) Read(p []byte) (int, error) {
	n, err := e.ReadCloser.Read(p)
	if err == io.EOF {
		_ = e.control.SetReadDeadline(time.Time{})
	}
	return n, err
}

// paced is an answer of which each piece has its deadline, unless the handler sets its own.
type paced struct {
	http.ResponseWriter
	control *http.ResponseController
	wall    Clock
	own     bool
}

func (p *paced) wait() {
	if !p.own {
		_ = p.control.SetWriteDeadline(p.wall.Now().Add(pieceWithin))
	}
}

// SetWriteDeadline is the handler's own.
func (p *paced) SetWriteDeadline(t time.Time) error {
	p.own = true
	return p.control.SetWriteDeadline(t)
}

// Write implements http.ResponseWriter.
func (p *paced) Write(b []byte) (n int, err error) {
	for first := true; first || len(b) > 0; first = false {
		p.wait()
		m, err := p.ResponseWriter.Write(b[:min(len(b), pieceOf)])
		n += m
		if err != nil {
			return n, err
		}
		b = b[m:]
	}
	return n, nil
}

// Unwrap lets the rest reach the connection.
func (p *paced) Unwrap() http.ResponseWriter { return p.ResponseWriter }

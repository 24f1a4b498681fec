package push

import (
	"net"
	"net/http"
	"testing"
	"time"
)

// hangUp ends a connection without an answer, as a network does that is gone.
func hangUp(t *testing.T, w http.ResponseWriter) {
	t.Helper()
	conn, _, err := w.(http.Hijacker).Hijack()
	if err != nil {
		t.Error(err)
		return
	}
	_ = conn.(*net.TCPConn).SetLinger(0)
	_ = conn.Close()
}

// What went out, and was not answered, may have arrived; what was refused, or never went out, has not.
func TestAMessageThatMayHaveArrived(t *testing.T) {
	hang := make(chan struct{})
	deaf, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	gone := "http://" + deaf.Addr().String()
	deaf.Close()
	for name, c := range map[string]struct {
		url     string
		unknown bool
	}{
		"no answer":      {serve(t, func(http.ResponseWriter, *http.Request) { <-hang }), true},
		"hung up":        {serve(t, func(w http.ResponseWriter, _ *http.Request) { hangUp(t, w) }), true},
		"busy":           {serve(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusServiceUnavailable) }), false},
		"refused":        {serve(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusForbidden) }), false},
		"nobody listens": {gone, false},
	} {
		s := hookTo(c.url)
		if name == "no answer" {
			s.Deadline = 300 * time.Millisecond
		}
		if refusal := failure(t, channel(t, s)); refusal.Unknown != c.unknown {
			t.Errorf("%s: %+v", name, refusal)
		}
	}
	close(hang)
}

package push

import (
	"context"
	"encoding/json"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

func hookTo(address string) Settings {
	return Settings{
		Name: "kitchen", Kind: "http", URL: address + "/alarm/tok3n-in-path?key=tok3n-in-query",
		Headers: map[string]string{"Authorization": "Bearer tok3n-in-header"}, Deadline: 2 * time.Second,
	}
}

// serve answers like handler and waits for it at the end.
func serve(t *testing.T, handler http.HandlerFunc) string {
	t.Helper()
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	return server.URL
}

func TestHookPostsTheMessage(t *testing.T) {
	var got hookBody
	var request *http.Request
	url := serve(t, func(_ http.ResponseWriter, r *http.Request) {
		request = r
		if err := json.NewDecoder(r.Body).Decode(&got); err != nil {
			t.Error(err)
		}
	})
	receipt, err := channel(t, hookTo(url)).Send(context.Background(), fire())
	if err != nil {
		t.Fatal(err)
	}
	m := fire()
	want := hookBody{Alarm: 17, Message: 42, Kind: "raised", Entry: "H3", Level: "ring", Title: m.Subject, Text: m.Body}
	if got != want {
		t.Errorf("body = %+v, want %+v", got, want)
	}
	if request.Method != http.MethodPost || request.Header.Get("Authorization") != "Bearer tok3n-in-header" ||
		request.Header.Get("User-Agent") != "flitch" {
		t.Errorf("%s with %v", request.Method, request.Header)
	}
	if receipt != "answered 200 OK" {
		t.Errorf("receipt = %q", receipt)
	}
}

func TestHookAnswers(t *testing.T) {
	for _, c := range []struct {
		status int
		header map[string]string
		retry  bool
		after  time.Duration
	}{
		{status: 302, header: map[string]string{"Location": "/elsewhere"}},
		{status: 400}, {status: 401}, {status: 404}, {status: 410},
		{status: 408, retry: true},
		{status: 429, retry: true, header: map[string]string{"Retry-After": "90"}, after: 90 * time.Second},
		{status: 429, retry: true, header: map[string]string{"Retry-After": "soon"}},
		{status: 500, retry: true}, {status: 502, retry: true},
		{status: 503, retry: true, header: map[string]string{
			"Retry-After": "Sun, 06 Nov 1994 08:50:37 GMT", "Date": "Sun, 06 Nov 1994 08:49:37 GMT"}, after: time.Minute},
	} {
		t.Run(http.StatusText(c.status), func(t *testing.T) {
			calls := 0
			url := serve(t, func(w http.ResponseWriter, r *http.Request) {
				calls++
				for name, value := range c.header {
					w.Header().Set(name, value)
				}
				w.WriteHeader(c.status)
				_, _ = w.Write([]byte("went to " + r.URL.String() + " with " + r.Header.Get("Authorization")))
			})
			refusal := failure(t, channel(t, hookTo(url)))
			if refusal.Retry != c.retry || refusal.After != c.after {
				t.Errorf("refusal = %+v, want retry %v after %s", refusal, c.retry, c.after)
			}
			if calls != 1 {
				t.Errorf("%d calls, want 1", calls)
			}
			if !strings.Contains(refusal.Text, http.StatusText(c.status)) {
				t.Errorf("text %q does not say %q", refusal.Text, http.StatusText(c.status))
			}
		})
	}
}

func TestHookThatHangsKeepsTheDeadline(t *testing.T) {
	hang := make(chan struct{})
	s := hookTo(serve(t, func(http.ResponseWriter, *http.Request) { <-hang }))
	t.Cleanup(func() { close(hang) }) // runs before the server waits for its handlers
	s.Deadline = 300 * time.Millisecond
	if refusal := failure(t, channel(t, s)); !refusal.Retry || refusal.Text != "no answer within 300ms" {
		t.Errorf("refusal = %+v, want a retry", refusal)
	}
}

func TestHookThatResetsIsTriedAgain(t *testing.T) {
	url := serve(t, func(w http.ResponseWriter, _ *http.Request) {
		conn, _, err := w.(http.Hijacker).Hijack()
		if err != nil {
			t.Error(err)
			return
		}
		_ = conn.(*net.TCPConn).SetLinger(0)
		_ = conn.Close()
	})
	if refusal := failure(t, channel(t, hookTo(url))); !refusal.Retry || strings.Contains(refusal.Text, "tok3n") {
		t.Errorf("refusal = %+v, want a retry without secrets", refusal)
	}
}

func TestHookKeepsSecrets(t *testing.T) {
	nobody, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := "http://" + nobody.Addr().String()
	if err := nobody.Close(); err != nil {
		t.Fatal(err)
	}
	echo := serve(t, func(w http.ResponseWriter, r *http.Request) {
		http.Error(w, "no: "+r.Host+r.URL.String()+" "+r.Header.Get("Authorization"), http.StatusBadRequest)
	})
	for _, url := range []string{address, echo} {
		if refusal := failure(t, channel(t, hookTo(url))); strings.Contains(refusal.Text, "tok3n") || refusal.Text == "" {
			t.Errorf("text = %q", refusal.Text)
		}
	}
}

package api

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"flitch/process"
)

func TestAPhoneAsksToBeRung(t *testing.T) {
	var asked []NewPhone
	h := &house{}
	deps := Deps{Reader: h, Commander: h, Clock: h, Wall: h, Log: slog.New(slog.DiscardHandler)}
	deps.AddPhone = func(_ context.Context, n NewPhone) (int64, error) {
		asked = append(asked, n)
		switch n.Name {
		case "":
			return 0, &process.Refusal{What: "the phone has no name", Hint: "type one"}
		case "broken":
			return 0, errors.New("disk gone")
		}
		return 3, nil
	}
	const good = `{"channel":"push","by":"T.V.","name":"grey","subscription":{"endpoint":"https://push.example/a","expirationTime":1.5,"keys":{"p256dh":"P","auth":"A"}}}`
	for _, c := range []struct {
		body, origin string
		status       int
		says         string
	}{
		{body: good, status: http.StatusOK, says: `"phone":3`},
		{body: strings.Replace(good, "grey", "", 1), status: http.StatusUnprocessableEntity, says: "no name"},
		{body: strings.Replace(good, "grey", "broken", 1), status: http.StatusInternalServerError, says: "inside flitch"},
		{body: good + good, status: http.StatusBadRequest, says: "after the JSON"},
		{body: `{"subscription":7}`, status: http.StatusBadRequest, says: "subscription"},
		{body: strings.Replace(good, "/a", "/"+strings.Repeat("a", maxBody), 1), status: http.StatusRequestEntityTooLarge, says: "longer than"},
		{body: good, origin: "https://evil.example", status: http.StatusForbidden, says: "another site"},
	} {
		r := httptest.NewRequest(http.MethodPost, "http://localhost/api/phones", strings.NewReader(c.body))
		if c.origin != "" {
			r.Header.Set("Origin", c.origin)
		}
		w := httptest.NewRecorder()
		New(deps).ServeHTTP(w, r)
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) || strings.Contains(w.Body.String(), "disk gone") {
			t.Errorf("%.60s: %d %s, want %d with %q", c.body, w.Code, w.Body, c.status, c.says)
		}
	}
	if len(asked) != 3 {
		t.Fatalf("asked %d times, want 3", len(asked))
	}
	n := asked[0]
	if n.Channel != "push" || n.By != "T.V." || n.Name != "grey" || n.Subscription.Endpoint != "https://push.example/a" || n.Subscription.Keys.Public != "P" || n.Subscription.Keys.Secret != "A" {
		t.Errorf("asked for %+v", n)
	}
	deps.AddPhone = nil
	w := httptest.NewRecorder()
	New(deps).ServeHTTP(w, httptest.NewRequest(http.MethodPost, "http://localhost/api/phones", strings.NewReader(good)))
	if w.Code != http.StatusNotFound {
		t.Errorf("without web push: %d", w.Code)
	}
}

// The second door has the same guard: it is not called by a stranger's name.
func TestTheSecondDoorIsGuarded(t *testing.T) {
	deps := Deps{Hosts: []string{"smokehouse.lan"}, Log: slog.New(slog.DiscardHandler)}
	door := NewGuarded(deps, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusTeapot) }))
	for host, want := range map[string]int{"smokehouse.lan:8410": http.StatusTeapot, "localhost": http.StatusTeapot, "evil.example": http.StatusForbidden} {
		r := httptest.NewRequest(http.MethodGet, "http://"+host+"/", nil)
		w := httptest.NewRecorder()
		door.ServeHTTP(w, r)
		if w.Code != want || w.Header().Get("Content-Security-Policy") == "" {
			t.Errorf("%s: %d %v", host, w.Code, w.Header())
		}
	}
}

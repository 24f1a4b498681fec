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

// A phoneBook is a fake of the list.
type phoneBook struct{ asked *[]NewPhone }

func (b phoneBook) AddPhone(_ context.Context, n NewPhone) (int64, error) {
	*b.asked = append(*b.asked, n)
	switch n.Name {
	case "":
		return 0, &process.Refusal{What: "the phone has no name", Hint: "type one"}
	case "broken":
		return 0, errors.New("disk gone")
	}
	return 3, nil
}

func (b phoneBook) RenewPhone(_ context.Context, n Renewal) (int64, error) {
	if n.Old != "https://push.example/a" || n.Subscription.Endpoint != "https://push.example/b" {
		return 0, &process.Refusal{What: "no such phone", NotFound: true}
	}
	return 3, nil
}

func (b phoneBook) ListPhones(context.Context) ([]Phone, error) {
	return []Phone{{ID: 3, Channel: "push", Person: "T.V.", Name: "grey"}}, nil
}

func (b phoneBook) RemovePhone(_ context.Context, id int64, by string) error {
	if id != 3 || by == "" {
		return &process.Refusal{What: "no such phone", NotFound: true}
	}
	return nil
}

// What the worker of a phone and the command line ask of the list.
func TestTheListOfPhones(t *testing.T) {
	h := &house{}
	server := New(Deps{Reader: h, Commander: h, Clock: h, Wall: h, Log: slog.New(slog.DiscardHandler), Phones: phoneBook{new([]NewPhone)}})
	for _, c := range []struct {
		method, path, body string
		status             int
		says               string
	}{
		{http.MethodGet, "/api/phones", "", http.StatusOK, `[{"phone":3,"channel":"push","by":"T.V.","name":"grey","added":"0001-01-01T00:00:00Z"}]`},
		{http.MethodPost, "/api/phones/renewed", `{"old":"https://push.example/a","subscription":{"endpoint":"https://push.example/b","keys":{"p256dh":"P","auth":"A"}}}`, http.StatusOK, "phone 3 rings on"},
		{http.MethodPost, "/api/phones/renewed", `{"old":"https://push.example/z"}`, http.StatusNotFound, "no such phone"},
		{http.MethodPost, "/api/phones/renewed", `[]`, http.StatusBadRequest, "press the button"},
		{http.MethodPost, "/api/phones/remove", `{"phone":3,"by":"T.V."}`, http.StatusOK, "rings no more"},
		{http.MethodPost, "/api/phones/remove", `{"phone":"grey"}`, http.StatusBadRequest, "phone"},
		{http.MethodPost, "/api/phones/remove", `{"phone":9,"by":"T.V."}`, http.StatusNotFound, "no such phone"},
		{http.MethodGet, "/api/phones/remove", "", http.StatusNotFound, "there is no"},
	} {
		w := httptest.NewRecorder()
		server.ServeHTTP(w, httptest.NewRequest(c.method, "http://localhost"+c.path, strings.NewReader(c.body)))
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) {
			t.Errorf("%s %s %s: %d %s", c.method, c.path, c.body, w.Code, w.Body)
		}
	}
}

func TestAPhoneAsksToBeRung(t *testing.T) {
	var asked []NewPhone
	h := &house{}
	deps := Deps{Reader: h, Commander: h, Clock: h, Wall: h, Log: slog.New(slog.DiscardHandler)}
	deps.Phones = phoneBook{asked: &asked}
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
	deps.Phones = nil
	w := httptest.NewRecorder()
	New(deps).ServeHTTP(w, httptest.NewRequest(http.MethodPost, "http://localhost/api/phones", strings.NewReader(good)))
	if w.Code != http.StatusNotFound {
		t.Errorf("without web push: %d", w.Code)
	}
}

// The second door has the same guard: it is not called by a stranger's name.
func TestTheSecondDoorIsGuarded(t *testing.T) {
	deps := Deps{Hosts: []string{"smokehouse.lan"}, Wall: &house{}, Log: slog.New(slog.DiscardHandler)}
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

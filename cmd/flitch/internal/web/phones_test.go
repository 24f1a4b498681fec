package web

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"flitch/process"
	"flitch/process/record"
)

// A phoneList is a fake of the list.
type phoneList struct {
	all     []Phone
	fault   error
	removed []string
}

func (l *phoneList) Phones(context.Context) ([]Phone, error) { return l.all, l.fault }

func (l *phoneList) RemovePhone(_ context.Context, id int64, by string) error {
	switch {
	case by == "":
		return &process.Refusal{What: "nobody said this", Hint: "type your initials"}
	case id != 3:
		return errors.New("disk gone")
	}
	l.removed = append(l.removed, by)
	return nil
}

func ringing(l *phoneList) *Ringing {
	return &Ringing{Phones: l, Channels: []string{"tv-push"}, Others: []Way{{"mail", "email"}}, SenderKey: "BKey", Link: "https://smokehouse.lan:8411",
		Root: []byte("-----BEGIN CERTIFICATE-----"), Fingerprint: "AB:CD"}
}

// withPhones is the page of the sample house with phones.
func withPhones(r *Ringing) http.Handler {
	h := sampleHouse()
	return New(Deps{Site: record.Site{Name: "Oddwick Lane Larder", Zone: time.UTC}, Reader: h, Commander: h, Clock: h, NewID: func() string { return "id" },
		Log: slog.New(slog.DiscardHandler), Ringing: r})
}

func TestThePageOfPhones(t *testing.T) {
	l := &phoneList{all: []Phone{
		{ID: 3, Channel: "tv-push", Person: "T.V.", Name: "<grey>", Added: night.Add(-time.Hour)},
		{ID: 4, Channel: "tv-push", Person: "M.O.", Name: "red", Added: night.Add(-time.Hour), Ended: night, Why: "answered 410 Gone"},
	}}
	body := get(t, withPhones(ringing(l)), "/phones").Body.String()
	has(t, body, `data-key="BKey"`, `name="channel" value="tv-push"`, "&lt;grey&gt;, T.V., for tv-push", "since 01:31 UTC",
		"rings no more since 02:31 UTC: answered 410 Gone", `name="phone" value="4"`, "mail (email)", "This page came by plain http",
		"then open https://smokehouse.lan:8411", `href="/trust"`, "On an iPhone", `src="/static/phones.js"`)
	has(t, get(t, withPhones(ringing(l)), "/batches").Body.String(), `href="/phones"`)
	if body := get(t, sampleHouse().page(t, record.Site{}), "/batches").Body.String(); strings.Contains(body, "/phones") {
		t.Error("a page without phones links to them")
	}
}

func TestThePageOfPhonesWithoutAChannel(t *testing.T) {
	r := &Ringing{Phones: &phoneList{}}
	body := get(t, withPhones(r), "/phones").Body.String()
	has(t, body, "kind = &#34;push&#34;", "None yet.", "None is in the configuration. E-mail")
	for _, not := range []string{`id="ring"`, "/trust"} {
		if strings.Contains(body, not) {
			t.Errorf("the page holds %q", not)
		}
	}
	r.Channels = []string{"tv-push", "shop-push"}
	has(t, get(t, withPhones(r), "/phones").Body.String(), "<option>shop-push</option>", "In the configuration, under [page]")
	for _, path := range []string{"/trust", "/root.crt"} {
		if w := get(t, withPhones(r), path); w.Code != http.StatusNotFound {
			t.Errorf("%s without a root: %d", path, w.Code)
		}
	}
}

func TestAPhoneIsTakenOffTheList(t *testing.T) {
	l := &phoneList{}
	p := withPhones(ringing(l))
	w := post(t, p, "/phones/remove", "phone=3&by=T.V.")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/phones?done" || len(l.removed) != 1 || l.removed[0] != "T.V." {
		t.Errorf("%d to %q, removed by %q", w.Code, w.Header().Get("Location"), l.removed)
	}
	for form, c := range map[string]struct {
		status int
		says   string
	}{
		"phone=3":               {http.StatusUnprocessableEntity, "Who are you?"},
		"phone=x&by=T.V.":       {http.StatusUnprocessableEntity, "is not the number of a phone"},
		"by=T.V.":               {http.StatusUnprocessableEntity, "is not the number of a phone"},
		"phone=3&by=T.V.&x=%zz": {http.StatusUnprocessableEntity, "could not be read"},
		"phone=9&by=T.V.":       {http.StatusInternalServerError, "Something went wrong"},
	} {
		w := post(t, p, "/phones/remove", form)
		if w.Code != c.status || !strings.Contains(w.Body.String(), c.says) || strings.Contains(w.Body.String(), "disk gone") {
			t.Errorf("%s: %d, want %d with %q", form, w.Code, c.status, c.says)
		}
	}
	if len(l.removed) != 1 {
		t.Errorf("removed by %q", l.removed)
	}
	l.fault = errors.New("disk gone")
	if w := get(t, p, "/phones"); w.Code != http.StatusInternalServerError || strings.Contains(w.Body.String(), "disk gone") {
		t.Errorf("a list that cannot be read: %d", w.Code)
	}
	if w := get(t, p, "/phones/remove"); w.Code == http.StatusOK {
		t.Error("looking at it removed a phone")
	}
}

func TestTheWorkerAndTheRoot(t *testing.T) {
	for _, h := range []http.Handler{withPhones(ringing(&phoneList{})), NewPlain(Deps{Site: record.Site{}, Clock: sampleHouse(), Log: slog.New(slog.DiscardHandler), Ringing: ringing(&phoneList{})})} {
		w := get(t, h, "/root.crt")
		if w.Code != http.StatusOK || w.Header().Get("Content-Type") != "application/x-x509-ca-cert" || !strings.HasPrefix(w.Body.String(), "-----BEGIN") {
			t.Errorf("%d %v %s", w.Code, w.Header(), w.Body)
		}
		has(t, get(t, h, "/trust").Body.String(), "AB:CD", `href="/root.crt"`, `href="https://smokehouse.lan:8411/phones"`, "Certificate Trust Settings")
	}
	w := get(t, withPhones(ringing(&phoneList{})), "/ring.js")
	if w.Code != http.StatusOK || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/javascript") || !strings.Contains(w.Body.String(), "showNotification") {
		t.Errorf("the worker: %d %v", w.Code, w.Header())
	}
}

// The second door shows nothing of the house and changes nothing.
func TestThePlainDoorOnlyPoints(t *testing.T) {
	plain := NewPlain(Deps{Site: record.Site{}, Clock: sampleHouse(), Log: slog.New(slog.DiscardHandler), Ringing: ringing(&phoneList{})})
	for path, want := range map[string]string{"/": "/trust", "/batches/A%2FB?x=1": "https://smokehouse.lan:8411/batches/A%2FB?x=1", "/ring.js": "https://smokehouse.lan:8411/ring.js"} {
		w := get(t, plain, path)
		if w.Code < 300 || w.Code > 399 || w.Header().Get("Location") != want {
			t.Errorf("%s: %d to %q, want %q", path, w.Code, w.Header().Get("Location"), want)
		}
	}
	for _, path := range []string{"/acknowledge", "/phones/remove", "/trust"} {
		w := httptest.NewRecorder()
		plain.ServeHTTP(w, httptest.NewRequest(http.MethodPost, path, strings.NewReader("by=TV")))
		if w.Code != http.StatusMethodNotAllowed {
			t.Errorf("POST %s: %d", path, w.Code)
		}
	}
}

func TestPagesOfPhonesObeyTheRules(t *testing.T) {
	h := withPhones(ringing(&phoneList{all: []Phone{{ID: 3, Name: "grey"}}}))
	for _, path := range []string{"/phones", "/trust"} {
		body := get(t, h, path).Body.String()
		for _, bad := range []string{" style=", "<style", " onclick", "javascript:", "<script>"} {
			if strings.Contains(body, bad) {
				t.Errorf("%s holds %q", path, bad)
			}
		}
	}
	labelled(t, get(t, h, "/phones").Body.String(), "/phones")
}

package api

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// Whatever stands in the query of a chart, a picture, a record or a photo, the answer is what
// was asked for, or says no; nothing breaks inside.
func FuzzQueries(f *testing.F) {
	f.Add("from=2026-11-16T00:00:00Z&to=2026-11-17T00:00:00Z&width=900")
	f.Add("hours=24&width=300")
	f.Add("for=customer&paper=letter")
	f.Add("for=self&paper=a4&hours=99999999999999999999")
	f.Add("by=TV&text=x&at=2026-11-16T00:00:00Z&id=%00%ff")
	f.Add("width=-1&from=0000-00-00&%zz")
	paths := []string{"/batches/OL-31-09/chart.json", "/batches/OL-31-09/cure.svg", "/api/reckon/none"}
	f.Fuzz(func(t *testing.T, query string) {
		h := New((&house{}).deps())
		for i, path := range paths {
			r := httptest.NewRequest(http.MethodGet, "http://localhost"+path, nil)
			r.URL.RawQuery = query
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if w.Code >= 500 || i == 2 && w.Code != http.StatusNotFound {
				t.Errorf("%s?%s: %d %.200s", path, query, w.Code, w.Body)
			}
		}
		q, _ := url.ParseQuery(query)
		asked := recordAsked("pdf", q)
		if asked.Check() == nil && asked.Paper != "" && asked.Paper != "a4" && asked.Paper != "letter" {
			t.Errorf("%+v", asked)
		}
	})
}

// The bodies of the JSON API besides commands: rows of an import, phones, sign-ins.
func FuzzBodies(f *testing.F) {
	for _, s := range []string{
		`{"probe":"core-1","by":"TV","rows":[[1925000000000,3.4]]}`,
		`{"channel":"push","by":"T.V.","name":"grey","subscription":{"endpoint":"https://push.example/a","expirationTime":null,"keys":{"p256dh":"P","auth":"A"}}}`,
		`{"by":"T.V.","password":"x"}`, `{"phone":3,"by":"T.V."}`, `{"old":"x","subscription":{}}`,
		`{"probe":"c","file":"x.csv","sha256":"00","rows":5,"from":"2026-11-16T00:00:00Z"}`, `[[[[`, `{"a":{"a":1,"A":2}}`, "",
	} {
		f.Add(s)
	}
	into := []func() any{func() any { return new(ImportRows) }, func() any { return new(ImportDone) }, func() any { return new(NewPhone) },
		func() any { return new(Renewal) }, func() any { return new(removeBody) }, func() any { return new(signInBody) }}
	f.Fuzz(func(t *testing.T, body string) {
		name, found := twice([]byte(body))
		for _, make := range into {
			status, err := readBody(httptest.NewRecorder(), httptest.NewRequest(http.MethodPost, "/", strings.NewReader(body)), make())
			if (err == nil) != (status == 0) || status >= 500 {
				t.Errorf("%q: %d %v", body, status, err)
			}
			if err == nil && found {
				t.Errorf("%q: %q is there twice and was taken", body, name)
			}
			if err == nil && !json.Valid([]byte(body)) {
				t.Errorf("%q is taken for JSON", body)
			}
		}
	})
}

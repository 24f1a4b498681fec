package web

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"flitch/process/record"
)

func TestEachBrowserChoosesItsDegrees(t *testing.T) {
	page := Degrees(sampleHouse().page(t, record.Site{}))
	press := func(degrees, back string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", "/degrees", strings.NewReader(url.Values{"degrees": {degrees}, "back": {back}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		page.ServeHTTP(w, r)
		return w
	}
	chosen := press("F", "/batches/OL-31-09")
	if chosen.Code != http.StatusSeeOther || chosen.Header().Get("Location") != "/batches/OL-31-09" {
		t.Fatalf("%d to %q", chosen.Code, chosen.Header().Get("Location"))
	}
	r := httptest.NewRequest("GET", "/batches/OL-31-09", nil)
	r.AddCookie(chosen.Result().Cookies()[0])
	w := httptest.NewRecorder()
	page.ServeHTTP(w, r)
	has(t, w.Body.String(), "°F</small>", `value="F" aria-pressed="true"`)
	w = httptest.NewRecorder()
	page.ServeHTTP(w, httptest.NewRequest("GET", "/batches/OL-31-09", nil))
	has(t, w.Body.String(), "°C</small>", `value="C" aria-pressed="true"`)
	if wrong := press("K", "//elsewhere.example"); len(wrong.Result().Cookies()) > 0 || wrong.Header().Get("Location") != "/" {
		t.Errorf("degrees K: cookies %v, to %q", wrong.Result().Cookies(), wrong.Header().Get("Location"))
	}
}

package signin

import (
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"testing"
)

// A browser keeps what a machine gives it whose clock is years behind: it is told for how long,
// and not until when.
func TestABrowserKeepsTheCookieOfAMachineIn1970(t *testing.T) {
	home, err := url.Parse("http://localhost:8411/")
	if err != nil {
		t.Fatal(err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	r := httptest.NewRequest(http.MethodPost, "/sign-in", nil)
	for _, c := range []*http.Cookie{Cookie(r, "token", lasts), KnownCookie(r, "known")} {
		if c.MaxAge <= 0 || !c.Expires.IsZero() {
			t.Errorf("%s is kept for %d s, until %v", c.Name, c.MaxAge, c.Expires)
		}
		jar.SetCookies(home, []*http.Cookie{c})
	}
	if n := len(jar.Cookies(home)); n != 2 {
		t.Errorf("%d cookies are kept", n)
	}
	jar.SetCookies(home, []*http.Cookie{Cookie(r, "", 0)})
	if n := len(jar.Cookies(home)); n != 1 {
		t.Errorf("after the sign-out %d cookies are kept", n)
	}
}

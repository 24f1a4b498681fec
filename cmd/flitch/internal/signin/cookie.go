package signin

import (
	"net"
	"net/http"
	"strings"
	"time"
)

// The cookie is called otherwise by https: a browser then takes it from nobody else on
// the same name (RFC 6265bis, 4.1.3.2).
const (
	plainCookie  = "flitch"
	secureCookie = "__Host-flitch"
)

// Cookie carries a token for so long; an empty one takes it away. The browser counts by its own
// clock: an end in ours would be long over when this machine started in 1970.
func Cookie(r *http.Request, token string, lasts time.Duration) *http.Cookie {
	c := &http.Cookie{Name: plainCookie, Value: token, Path: "/", MaxAge: int(lasts / time.Second), HttpOnly: true, SameSite: http.SameSiteStrictMode}
	if byHTTPS(r) {
		c.Name, c.Secure = secureCookie, true
	}
	if token == "" {
		c.MaxAge = -1
	}
	return c
}

// Token returns what a request carries: a cookie of a browser, or the bearer token of
// a command (RFC 6750, 2.1).
func Token(r *http.Request) string {
	if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return bearer
	}
	if c, err := r.Cookie(secureCookie); err == nil {
		return c.Value
	}
	if c, err := r.Cookie(plainCookie); err == nil && r.TLS == nil {
		return c.Value
	}
	return ""
}

// byHTTPS reports whether the browser speaks https: with us, or with a server in front of
// us, as that says or as the origin of a form does. Who lies in a header binds only the own
// cookie.
func byHTTPS(r *http.Request) bool {
	return r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https" || strings.HasPrefix(r.Header.Get("Origin"), "https://")
}

// From is the address a request comes from, without the port.
func From(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

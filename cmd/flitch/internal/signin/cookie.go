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

// Cookie carries a token; an empty one takes it away.
func Cookie(r *http.Request, token string, ends time.Time) *http.Cookie {
	c := &http.Cookie{Name: plainCookie, Value: token, Path: "/", Expires: ends, HttpOnly: true, SameSite: http.SameSiteStrictMode}
	if r.TLS != nil {
		c.Name, c.Secure = secureCookie, true
	}
	if token == "" {
		c.MaxAge, c.Expires = -1, time.Time{}
	}
	return c
}

// Token returns what a request carries: a cookie of a browser, or the bearer token of
// a command (RFC 6750, 2.1).
func Token(r *http.Request) string {
	if bearer, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer "); ok {
		return bearer
	}
	name := plainCookie
	if r.TLS != nil {
		name = secureCookie
	}
	if c, err := r.Cookie(name); err == nil {
		return c.Value
	}
	return ""
}

// From is the address a request comes from, without the port.
func From(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

package api

import (
	"net"
	"net/http"
	"strings"
)

// policy is what a browser may load for our pages: only what we serve, no inline
// script or style, and nobody may frame them.
const policy = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"

// paperPolicy is for records and charts, which stand alone: they bring their own
// style, run nothing and load nothing.
const paperPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// guard lets a request through only if it is for us and not sent by another
// site's page.
//
// The list of hosts is against DNS rebinding: a name that somebody else points at
// our address is not ours. Browsers send Sec-Fetch-Site only to secure origins
// and localhost; on plain HTTP in the house the check of Origin against Host does
// the work, so the referrer policy must not be one that blanks Origin.
func (s *server) guard(next http.Handler) http.Handler {
	hosts := map[string]bool{"localhost": true, "127.0.0.1": true, "::1": true}
	for _, h := range s.Hosts {
		hosts[strings.ToLower(hostOnly(h))] = true
	}
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, http.StatusForbidden, "this came from a page of another site", "use the page of flitch itself")
	}))
	inner := s.pace(compress(cross.Handler(next)))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		if !hosts[strings.ToLower(hostOnly(r.Host))] {
			s.refuse(w, http.StatusForbidden, "flitch is not called "+hostOnly(r.Host),
				"use localhost, or put the address people use into link = in [page] of the configuration")
			return
		}
		inner.ServeHTTP(w, r)
	})
}

// hostOnly takes off the port and the brackets of an IPv6 address.
func hostOnly(host string) string {
	if h, _, err := net.SplitHostPort(host); err == nil {
		return h
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

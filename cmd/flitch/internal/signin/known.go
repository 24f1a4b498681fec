package signin

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"strings"
	"time"
)

// knownLasts is how long a browser is remembered as one that somebody signed in with. Proposal.
const knownLasts = 400 * 24 * time.Hour

// knownContext keeps this use of the key apart from any other.
const knownContext = "flitch known browser\x00"

const (
	plainKnown  = "flitch-known"
	secureKnown = "__Host-flitch-known"
)

// Known is a token for the browser of somebody who has just signed in. It lets nobody in: it
// keeps what strangers try from holding this browser up.
func (d *Desk) Known(initials string) string {
	return d.knownAs(initials, rand.Text())
}

func (d *Desk) knownAs(initials, nonce string) string {
	claim := initials + "\t" + nonce
	return base64.RawURLEncoding.EncodeToString([]byte(claim)) + "." + base64.RawURLEncoding.EncodeToString(d.knownSum(claim))
}

func (d *Desk) knownSum(claim string) []byte {
	mac := hmac.New(sha256.New, d.Key)
	mac.Write([]byte(knownContext))
	mac.Write([]byte(claim))
	return mac.Sum(nil)
}

// isKnown reports whether the token is one of Known, for these initials.
func (d *Desk) isKnown(token, initials string) bool {
	claim, ok := d.claimOf(token, d.knownSum)
	name, _, _ := strings.Cut(claim, "\t")
	return ok && name == initials
}

// KnownCookie carries a token of Known.
func KnownCookie(r *http.Request, token string) *http.Cookie {
	c := &http.Cookie{Name: plainKnown, Value: token, Path: "/", MaxAge: int(knownLasts / time.Second), HttpOnly: true, SameSite: http.SameSiteStrictMode}
	if byHTTPS(r) {
		c.Name, c.Secure = secureKnown, true
	}
	return c
}

// KnownOf is the token of Known that a request carries.
func KnownOf(r *http.Request) string {
	if c, err := r.Cookie(secureKnown); err == nil {
		return c.Value
	}
	if c, err := r.Cookie(plainKnown); err == nil && r.TLS == nil {
		return c.Value
	}
	return ""
}

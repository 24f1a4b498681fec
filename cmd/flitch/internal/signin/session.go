package signin

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"strconv"
	"strings"
	"time"
)

// lasts is how long somebody stays signed in: a phone on a shelf beside the smoker is
// not asked in the middle of a cook. Proposal.
const lasts = 60 * 24 * time.Hour

// mostToken is the longest token that is looked at, in characters.
const mostToken = 256

// tokenContext keeps this use of the key apart from any other.
const tokenContext = "flitch sign-in\x00"

// token writes who has signed in, until when and with which password, and signs it.
func (d *Desk) token(name string, ends time.Time) string {
	claim := strings.Join([]string{name, strconv.FormatInt(ends.Unix(), 10), mark(d.File.line(name))}, "\t")
	return base64.RawURLEncoding.EncodeToString([]byte(claim)) + "." + base64.RawURLEncoding.EncodeToString(d.sum(claim))
}

func (d *Desk) sum(claim string) []byte {
	mac := hmac.New(sha256.New, d.Key)
	mac.Write([]byte(tokenContext))
	mac.Write([]byte(claim))
	return mac.Sum(nil)
}

// read returns whose token it is, and that one's line of the file. Nothing of a token is
// looked at before its sum is found right; one made with an older password is none.
func (d *Desk) read(token string, now time.Time) (name, line string, ok bool) {
	claim, ok := d.claimOf(token, d.sum)
	if !ok {
		return "", "", false
	}
	parts := strings.Split(claim, "\t")
	if len(parts) != 3 {
		return "", "", false
	}
	ends, err := strconv.ParseInt(parts[1], 10, 64)
	line = d.File.line(parts[0])
	if err != nil || now.Unix() >= ends || line == "" || mark(line) != parts[2] || isOver(line, now) {
		return "", "", false
	}
	return parts[0], line, true
}

// claimOf returns what a token says if its sum is right.
func (d *Desk) claimOf(token string, sumOf func(claim string) []byte) (string, bool) {
	first, second, two := strings.Cut(token, ".")
	if !two || len(token) > mostToken || len(d.Key) == 0 || strings.ContainsAny(token, "\r\n") { // the decoder would skip line ends
		return "", false
	}
	claim, errA := base64.RawURLEncoding.Strict().DecodeString(first)
	sum, errB := base64.RawURLEncoding.Strict().DecodeString(second)
	return string(claim), errA == nil && errB == nil && hmac.Equal(sum, sumOf(string(claim)))
}

// mark is a short sum of a line: it changes with the password.
func mark(line string) string { return sumOf(line)[:16] }

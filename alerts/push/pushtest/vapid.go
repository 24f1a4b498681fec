package pushtest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"strings"
	"time"
)

// Claims are what a sender says of itself (RFC 8292, section 2).
type Claims struct {
	Audience string `json:"aud"`
	Expires  int64  `json:"exp"` // seconds since 1970
	Subject  string `json:"sub"`
}

// Verify checks an Authorization header as a push service does: the scheme, the
// signature by the key in it, that the key is the one the phone was added with,
// that it is for this service and ends within 24 hours (RFC 8292, sections 2 to 4).
func Verify(header, key, origin string, now time.Time) (Claims, error) {
	var claims Claims
	rest, ok := strings.CutPrefix(header, "vapid ")
	if !ok {
		return claims, fmt.Errorf("%q is not of the scheme vapid", header)
	}
	fields := map[string]string{}
	for field := range strings.SplitSeq(rest, ",") {
		name, value, _ := strings.Cut(strings.TrimSpace(field), "=")
		fields[name] = value
	}
	if fields["k"] != key {
		return claims, fmt.Errorf("signed by %q, want the key %q that the phone was added with", fields["k"], key)
	}
	if err := signed(fields["t"], key, &claims); err != nil {
		return claims, err
	}
	left := time.Unix(claims.Expires, 0).Sub(now)
	switch {
	case claims.Audience != origin:
		return claims, fmt.Errorf("meant for %q, not %q", claims.Audience, origin)
	case left <= 0 || left > 24*time.Hour:
		return claims, fmt.Errorf("ends in %s", left)
	case !strings.HasPrefix(claims.Subject, "mailto:") && !strings.HasPrefix(claims.Subject, "https:"):
		return claims, fmt.Errorf("subject %q is neither a mail address nor an https one", claims.Subject)
	}
	return claims, nil
}

// signed checks an ES256 token (RFC 7515, appendix A.3) and reads its claims.
func signed(token, key string, claims *Claims) error {
	parts := strings.Split(token, ".")
	if len(parts) != 3 {
		return errors.New("the token has not three parts")
	}
	raw := make([][]byte, 3)
	for i, part := range parts {
		var err error
		if raw[i], err = Raw.DecodeString(part); err != nil {
			return err
		}
	}
	var head struct {
		Algorithm string `json:"alg"`
	}
	if err := json.Unmarshal(raw[0], &head); err != nil || head.Algorithm != "ES256" {
		return fmt.Errorf("algorithm %q, %v", head.Algorithm, err)
	}
	point, err := Raw.DecodeString(key)
	if err != nil {
		return err
	}
	public, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), point)
	if err != nil {
		return err
	}
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	sig := raw[2]
	if len(sig) != 64 || !ecdsa.Verify(public, sum[:], new(big.Int).SetBytes(sig[:32]), new(big.Int).SetBytes(sig[32:])) {
		return errors.New("the signature is not right")
	}
	return json.Unmarshal(raw[1], claims)
}

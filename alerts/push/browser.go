package push

import (
	"crypto/ecdh"
	"encoding/base64"
	"errors"
	"fmt"
	"net/netip"
	"net/url"
	"strings"
)

const (
	longestEndpoint = 1024 // bytes; the longest in use, from memory, is about 500
	secretLength    = 16   // bytes (RFC 8291, section 3.2)
)

// A Browser is where one phone's browser takes its messages: what its page was
// given when a person pressed the button there (W3C Push API, PushSubscription).
type Browser struct {
	Endpoint string // address at the push service; whoever holds our key may send there
	Public   []byte // point on P-256, uncompressed, 65 bytes (RFC 8291, section 3.1)
	Secret   []byte // 16 bytes
}

// NewBrowser checks what a page sent. Everybody who reaches the page can send
// anything, and flitch then posts to that address from inside the house: so it
// has to be https and must not name a machine of the house; where the name
// really leads is looked at again with each connection. own is the address of a
// push service of one's own, to which none of that applies; empty: there is none.
// The error is in words for the person.
func NewBrowser(endpoint, public, secret, own string) (Browser, error) {
	if err := checkEndpoint(endpoint, own); err != nil {
		return Browser{}, err
	}
	point, err := fromBase64(public)
	if err != nil {
		return Browser{}, errors.New("the key p256dh is not base64")
	}
	if _, err := ecdh.P256().NewPublicKey(point); err != nil {
		return Browser{}, errors.New("the key p256dh is not a point on P-256")
	}
	shared, err := fromBase64(secret)
	if err != nil || len(shared) != secretLength {
		return Browser{}, fmt.Errorf("the key auth is not %d bytes in base64", secretLength)
	}
	return Browser{Endpoint: endpoint, Public: point, Secret: shared}, nil
}

func checkEndpoint(endpoint, own string) error {
	if len(endpoint) > longestEndpoint {
		return fmt.Errorf("the endpoint is longer than %d characters", longestEndpoint)
	}
	u, err := url.Parse(endpoint)
	switch {
	case err != nil || u.Host == "" || u.User != nil || u.Fragment != "" || u.Opaque != "":
		return errors.New("the endpoint is not a web address")
	case ownService(u, own):
		return nil
	case u.Scheme != "https":
		return errors.New("the endpoint is not an https address")
	}
	return checkHost(u.Hostname())
}

// checkHost refuses what is plainly a machine of the house.
func checkHost(host string) error {
	name := strings.ToLower(strings.TrimSuffix(host, "."))
	if ip, err := netip.ParseAddr(name); err == nil {
		if !outside(ip) {
			return errors.New("the endpoint is a machine of this house, not a push service")
		}
		return nil
	}
	top := name[strings.LastIndexByte(name, '.')+1:]
	house := map[string]bool{"localhost": true, "local": true, "lan": true, "home": true, "internal": true, "arpa": true}
	if top == name || house[top] {
		return errors.New("the endpoint is a machine of this house, not a push service")
	}
	return nil
}

// ownService reports whether an endpoint is at the push service of one's own.
func ownService(u *url.URL, own string) bool {
	o, err := url.Parse(own)
	return err == nil && own != "" && u.Scheme == o.Scheme && strings.EqualFold(u.Host, o.Host)
}

// fromBase64 takes both alphabets, with and without the padding, as browsers and
// their libraries send both.
func fromBase64(text string) ([]byte, error) {
	text = strings.NewReplacer("+", "-", "/", "_").Replace(strings.TrimRight(text, "="))
	return base64.RawURLEncoding.DecodeString(text)
}

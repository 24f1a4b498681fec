package push

import (
	"errors"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"syscall"
)

// shared is the space between a provider and its customers (RFC 6598), and
// translated the one that carries IPv4 inside IPv6 (RFC 6052): behind both may be
// a machine of the house.
var (
	shared     = netip.MustParsePrefix("100.64.0.0/10")
	translated = netip.MustParsePrefix("64:ff9b::/96")
)

// outside reports whether an address is on the internet and not in the house.
func outside(ip netip.Addr) bool {
	ip = ip.Unmap().WithZone("")
	return ip.IsGlobalUnicast() && !ip.IsPrivate() && !shared.Contains(ip) && !translated.Contains(ip)
}

var errInside = errors.New("the push service's name leads to a machine of this house")

// onlyOutside looks at the address that is about to be dialled: a name that was
// looked at before may lead somewhere else by now.
func onlyOutside(_, address string, _ syscall.RawConn) error {
	at, err := netip.ParseAddrPort(address)
	if err != nil || !outside(at.Addr()) {
		return errInside
	}
	return nil
}

// reaching makes a client that posts to endpoint. A proxy, if there is one, is
// what we dial then, and decides by itself where it goes.
func reaching(s Settings, endpoint *url.URL) *http.Client {
	client := newClient(s)
	transport := client.Transport.(*http.Transport)
	proxy, err := http.ProxyFromEnvironment(&http.Request{URL: endpoint})
	if err == nil && proxy == nil && !ownService(endpoint, s.Server) {
		transport.DialContext = (&net.Dialer{Control: onlyOutside}).DialContext
	}
	return client
}

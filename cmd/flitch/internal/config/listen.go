package config

import (
	"fmt"
	"net"
	"net/netip"
	"strconv"
)

// listen reads the address of a door of ours. Port 0 is any free one.
func (t *table) listen(fallback string) string {
	if _, number := t.values["listen"].(int64); number {
		t.get("listen")
		t.problem("listen", shown(t.values["listen"]), "is only a port", fmt.Sprintf("listen = %q", fallback))
		return fallback
	}
	address := t.or("listen", fallback)
	if wrong := badHostPort(address); wrong != "" {
		t.problem("listen", address, fmt.Sprintf("%q %s", address, wrong), fmt.Sprintf("listen = %q", fallback))
		return fallback
	}
	return address
}

// badHostPort says what is wrong with host:port, "" when nothing is.
func badHostPort(address string) string {
	_, port, err := net.SplitHostPort(address)
	if err != nil {
		return "is not host:port"
	}
	if _, err := strconv.ParseUint(port, 10, 16); err != nil {
		return "has no port from 0 to 65535"
	}
	return ""
}

// isLoopback reports whether only this machine reaches the address.
func isLoopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	return isLoopbackHost(host)
}

func isLoopbackHost(host string) bool {
	if host == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(host)
	return err == nil && ip.IsLoopback()
}

// sameDoor reports whether two listeners would want one port.
func sameDoor(a, b string) bool {
	_, portA, errA := net.SplitHostPort(a)
	_, portB, errB := net.SplitHostPort(b)
	return errA == nil && errB == nil && portA == portB && portA != "0"
}

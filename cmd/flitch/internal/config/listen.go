package config

import (
	"fmt"
	"net"
	"net/netip"
	"strconv"
)

// listen reads the address of a door of ours. Port 0 is any free one.
func (t *table) listen(fallback string) string { return t.door("listen", fallback, fallback) }

// door reads an address to listen on.
func (t *table) door(key, fallback, example string) string {
	hint := fmt.Sprintf("%s = %q", key, example)
	if _, number := t.values[key].(int64); number {
		t.get(key)
		t.problem(key, shown(t.values[key]), "is only a port", hint)
		return fallback
	}
	address := t.or(key, fallback)
	if address == "" {
		return ""
	}
	if wrong := badHostPort(address); wrong != "" {
		t.problem(key, address, fmt.Sprintf("%q %s", address, wrong), hint)
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

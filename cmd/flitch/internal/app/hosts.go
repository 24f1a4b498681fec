package app

import (
	"net"
	"net/url"

	"flitch/cmd/flitch/internal/config"
)

// hosts are the names by which browsers may call the page: what it listens on,
// what its messages link to, and what its certificate is for.
func hosts(c *config.Config) []string {
	var out []string
	if host, _, err := net.SplitHostPort(c.Page.Listen); err == nil && host != "" {
		out = append(out, host)
	}
	if u, err := url.Parse(c.Page.Link); err == nil && u.Hostname() != "" {
		out = append(out, u.Hostname())
	}
	return append(out, c.Page.Names...)
}

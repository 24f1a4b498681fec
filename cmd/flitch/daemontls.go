package main

import (
	"crypto/tls"
	"crypto/x509"
	"net/http"
	"net/url"
	"os"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/config"
)

// pageOf is where the page of a configuration is reached from this machine, and
// by whom it is asked: with TLS, a client that trusts this page's certificate and
// no other.
func pageOf(c *config.Config, plain *http.Client) (base string, client *http.Client, err error) {
	at := reachable(c.Page.Listen)
	if c.Page.TLS == config.NoTLS {
		return "http://" + at, plain, nil
	}
	file, name := app.RootFile(c.Site.Database), "localhost"
	if c.Page.TLS == config.Given {
		file, name = c.Page.Certificate, givenName(c.Page)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return "", nil, problem("flitch run, which makes the certificate at its first start", "the certificate of the page cannot be read: %v", err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(data) {
		return "", nil, problem("flitch run, which makes it anew when it is removed", "%s holds no certificate", file)
	}
	transport := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, ServerName: name, MinVersion: tls.VersionTLS12}}
	return "https://" + at, &http.Client{Transport: transport}, nil
}

// givenName is a name that a given certificate is for.
func givenName(p config.Page) string {
	if len(p.Names) > 0 {
		return p.Names[0]
	}
	if link, err := url.Parse(p.Link); err == nil {
		return link.Hostname()
	}
	return ""
}

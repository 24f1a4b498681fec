package app

import (
	"bytes"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"time"

	"flitch/cmd/flitch/internal/certificate"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/keyfile"
)

// RootFile is where the root certificate of an own authority lies, for everyone to
// read: commands trust the daemon by it.
func RootFile(database string) string { return database + ".root.crt" }

// buildTLS makes what the page is served with. The time is the machine's: phones
// look at a certificate by theirs.
func (a *App) buildTLS() error {
	switch page := a.cfg.Page; page.TLS {
	case config.Own:
		return a.ownTLS()
	case config.Given:
		given, err := certificate.NewGiven(page.Certificate, page.Key, Wall{}.Now, a.log)
		if err != nil {
			return fmt.Errorf("certificate of the page: %w", err)
		}
		a.tls = &tls.Config{GetCertificate: given.Get, MinVersion: tls.VersionTLS12}
	}
	return nil
}

func (a *App) ownTLS() error {
	path := a.cfg.Site.Database + ".root.key"
	authority, err := certificate.OpenAuthority(path, a.cfg.Site.Name, a.cfg.Page.Names, Wall{}.Now())
	if err != nil {
		return fmt.Errorf("root certificate: %w", err)
	}
	own, err := certificate.NewOwn(authority, a.cfg.Page.Names, Wall{}.Now)
	if errors.Is(err, certificate.ErrNames) {
		return fmt.Errorf("page.names: %w; remove %s: a new root is made, and each phone has to install it", err, path)
	}
	if err != nil {
		return fmt.Errorf("certificate of the page: %w", err)
	}
	if left := authority.Ends().Sub(Wall{}.Now()); left < rootWarning {
		a.log.Warn("the root certificate ends soon: remove it, start again, and install the new one on each phone", "file", path, "ends", authority.Ends())
	}
	a.root = authority
	a.tls = &tls.Config{GetCertificate: own.Get, MinVersion: tls.VersionTLS12}
	return publish(RootFile(a.cfg.Site.Database), authority.PEM())
}

// publish writes a file that everyone may read, if it is not that already.
func publish(path string, data []byte) error {
	if have, err := os.ReadFile(path); err == nil && bytes.Equal(have, data) {
		return nil
	}
	if err := keyfile.Write(path, data, 0o644); err != nil {
		return fmt.Errorf("root certificate: %w", err)
	}
	return nil
}

// listen takes a port for a server of ours.
func (a *App) listen(what, address string, handler http.Handler) (*door, error) {
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("%s cannot listen on %s: %w", what, address, err)
	}
	return &door{listener: listener, server: &http.Server{Handler: handler, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute,
		ErrorLog: quiet(a.log)}}, nil
}

// RootFingerprint is what people compare with what their phone shows; empty
// without an own authority.
func (a *App) RootFingerprint() string {
	if a.root == nil {
		return ""
	}
	return a.root.Fingerprint()
}

// PlainLink is PlainAddress as phones call it.
func (a *App) PlainLink() string {
	if a.plain == nil {
		return ""
	}
	_, port, _ := net.SplitHostPort(a.plain.listener.Addr().String()) // it listens there
	return "http://" + net.JoinHostPort(a.cfg.Page.Names[0], port)
}

// PlainAddress is where the root certificate is handed out by plain http; empty
// when it is not.
func (a *App) PlainAddress() string {
	if a.plain == nil {
		return ""
	}
	return "http://" + a.plain.listener.Addr().String()
}

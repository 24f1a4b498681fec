package app

import (
	"bytes"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"slices"

	"flitch/cmd/flitch/internal/api"
	"flitch/cmd/flitch/internal/certificate"
	"flitch/cmd/flitch/internal/config"
	"flitch/cmd/flitch/internal/keyfile"
)

// RootFile is where the root certificate of an own authority lies, for everyone to
// read: commands trust the daemon by it.
func RootFile(database string) string { return database + ".root.crt" }

// buildTLS makes what the page and the broker are served with. The time is the
// machine's: phones and sensors look at a certificate by theirs.
func (a *App) buildTLS() (err error) {
	page, sensors := a.cfg.Page, a.cfg.Broker
	if page.TLS == config.Own || sensors.TLS == config.Own {
		if err := a.openRoot(slices.Concat(page.Names, sensors.Names)); err != nil {
			return err
		}
	}
	if a.tls, err = a.served("page", page.TLS, page.Names, page.Certificate, page.Key); err != nil {
		return err
	}
	a.brokerTLS, err = a.served("broker", sensors.TLS, sensors.Names, sensors.Certificate, sensors.Key)
	return err
}

// served is what one door is served with; nil: plain.
func (a *App) served(door string, mode config.TLSMode, names []string, file, key string) (*tls.Config, error) {
	switch mode {
	case config.Own:
		own, err := certificate.NewOwn(a.root, names, a.trueTime)
		if errors.Is(err, certificate.ErrNames) {
			return nil, fmt.Errorf("%s.names: %w; remove %s: a new root is made, and each phone and sensor has to install it", door, err, a.rootKey())
		}
		if err != nil {
			return nil, fmt.Errorf("certificate of the %s: %w", door, err)
		}
		return &tls.Config{GetCertificate: own.Get, MinVersion: tls.VersionTLS12}, nil
	case config.Given:
		given, err := certificate.NewGiven(file, key, a.trueTime, a.log)
		if err != nil {
			return nil, fmt.Errorf("certificate of the %s: %w", door, err)
		}
		return &tls.Config{GetCertificate: given.Get, MinVersion: tls.VersionTLS12}, nil
	}
	return nil, nil
}

func (a *App) rootKey() string { return a.cfg.Site.Database + ".root.key" }

// openRoot opens the authority of this installation and hands its root out as a file.
func (a *App) openRoot(names []string) error {
	authority, err := certificate.OpenAuthority(a.rootKey(), a.cfg.Site.Name, names, a.trueTime())
	if err != nil {
		return fmt.Errorf("root certificate: %w", err)
	}
	if left := authority.Ends().Sub(a.trueTime()); left < rootWarning {
		a.log.Warn("the root certificate ends soon: remove it, start again, and install the new one on each phone and sensor", "file", a.rootKey(), "ends", authority.Ends())
	}
	a.root = authority
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
	return &door{listener: api.NewCrowd(listener), server: api.NewServer(handler, a.log)}, nil
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

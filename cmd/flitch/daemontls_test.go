package main

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/app"
	"flitch/cmd/flitch/internal/certificate"
	"flitch/cmd/flitch/internal/config"
)

// secured is a page by https whose certificate is for name, and the configuration
// of it, with its files in a folder of its own.
func secured(t *testing.T, mode config.TLSMode, name string) *config.Config {
	t.Helper()
	dir := t.TempDir()
	authority, err := certificate.OpenAuthority(filepath.Join(dir, "root"), "Plover Shed", nil, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	own, err := certificate.NewOwn(authority, []string{name}, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.Write([]byte(`["here"]`)) }))
	server.TLS = &tls.Config{GetCertificate: own.Get}
	server.Config.ErrorLog = log.New(io.Discard, "", 0) // clients that do not trust it are the test
	server.StartTLS()
	t.Cleanup(server.Close)
	c := &config.Config{}
	c.Site.Database, c.Site.Zone = filepath.Join(dir, "flitch.db"), time.UTC
	c.Page = config.Page{Listen: server.Listener.Addr().String(), TLS: mode, Names: []string{name}, Certificate: filepath.Join(dir, "page.crt")}
	if err := os.WriteFile(app.RootFile(c.Site.Database), authority.PEM(), 0o644); err != nil {
		t.Fatal(err)
	}
	leaf, err := own.Get(nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(c.Page.Certificate, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: leaf.Certificate[0]}), 0o644); err != nil {
		t.Fatal(err)
	}
	return c
}

// Commands reach a daemon that speaks https and trust its certificate, by the root
// or the file, and no other.
func TestCommandsTrustThePageOfTheConfiguration(t *testing.T) {
	for _, mode := range []config.TLSMode{config.Own, config.Given} {
		c := secured(t, mode, "smokehouse.lan")
		base, client, err := pageOf(c, &http.Client{})
		if err != nil || !strings.HasPrefix(base, "https://") {
			t.Fatalf("%s: %s, %v", mode, base, err)
		}
		var said []string
		if err := (&daemon{base: base, client: client, env: os.Getenv}).get("/api/batches", &said); err != nil || len(said) != 1 {
			t.Errorf("%s: %q, %v", mode, said, err)
		}
		other := secured(t, mode, "smokehouse.lan")
		c.Page.Listen = other.Page.Listen // another machine answers there
		if base, client, err = pageOf(c, &http.Client{}); err != nil {
			t.Fatal(err)
		}
		_, err = client.Get(base)
		if unknown, ok := errors.AsType[x509.UnknownAuthorityError](err); !ok {
			t.Errorf("%s: another page was trusted: %v, %v", mode, err, unknown)
		}
	}
}

func TestCommandsSayThatTheCertificateIsMissing(t *testing.T) {
	c := secured(t, config.Own, "smokehouse.lan")
	if err := os.Remove(app.RootFile(c.Site.Database)); err != nil {
		t.Fatal(err)
	}
	if _, _, err := pageOf(c, &http.Client{}); err == nil || !strings.Contains(err.Error(), "try: flitch run") {
		t.Errorf("err = %v", err)
	}
	c.Page.TLS = config.NoTLS
	plain := &http.Client{}
	if base, client, err := pageOf(c, plain); err != nil || base != "http://"+c.Page.Listen || client != plain {
		t.Errorf("%s %v", base, err)
	}
}

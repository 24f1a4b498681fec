package app

import (
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/certificate"
	"flitch/cmd/flitch/internal/config"
)

// ownShop serves its page by https with its own authority, and hands out the root
// by plain http.
func ownShop(t *testing.T) *shop {
	t.Helper()
	s := newShop(t)
	s.cfg.Page = config.Page{Listen: "127.0.0.1:0", TLS: config.Own, Names: []string{"smokehouse.lan"}, Plain: "127.0.0.1:0", Link: "https://smokehouse.lan:8411"}
	return s
}

// fetch gets an address without following it elsewhere.
func fetch(t *testing.T, client *http.Client, address string) (*http.Response, string) {
	t.Helper()
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	resp, err := client.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, string(body)
}

// trusting trusts one root and calls the page by a name.
func trusting(t *testing.T, root []byte, name string) *http.Client {
	t.Helper()
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(root) {
		t.Fatalf("no certificate: %q", root)
	}
	return &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, ServerName: name}, DisableKeepAlives: true}}
}

// A phone's way: the root by plain http, its fingerprint as printed at the start,
// then the page by https, trusting nothing but that root. The same root after a
// restart.
func TestThePageByHTTPSWithItsOwnRoot(t *testing.T) {
	s := ownShop(t)
	s.open()
	resp, root := fetch(t, &http.Client{}, s.app.PlainAddress()+"/root.crt")
	if resp.StatusCode != http.StatusOK || resp.Header.Get("Content-Type") != "application/x-x509-ca-cert" || strings.Contains(root, "PRIVATE") {
		t.Fatalf("%s %v", resp.Status, resp.Header)
	}
	block, _ := pem.Decode([]byte(root))
	sum := sha256.Sum256(block.Bytes)
	if got := strings.ReplaceAll(s.app.RootFingerprint(), ":", ""); got != fmt.Sprintf("%X", sum) {
		t.Errorf("fingerprint %s, want %X", got, sum)
	}
	for range 2 {
		for _, name := range []string{"smokehouse.lan", "localhost", "127.0.0.1"} {
			if resp, body := fetch(t, trusting(t, []byte(root), name), s.app.Address()+"/batches"); resp.StatusCode != http.StatusOK || !strings.Contains(body, "Plover Shed") {
				t.Errorf("%s: %s %s", name, resp.Status, body)
			}
		}
		if _, again := fetch(t, trusting(t, []byte(root), "localhost"), s.app.Address()+"/root.crt"); again != root {
			t.Error("the page hands out another root than the plain door")
		}
		s.close()
		s.open()
	}
	if _, err := trusting(t, []byte(root), "elsewhere.lan").Get(s.app.Address()); err == nil {
		t.Error("the certificate is for a name that is not the page's")
	}
	if _, err := (&http.Client{}).Get(s.app.Address()); err == nil {
		t.Error("somebody who has not installed the root trusts the page")
	}
	for file, mode := range map[string]os.FileMode{".root.key": 0o600, ".root.crt": 0o644} {
		if info, err := os.Stat(s.cfg.Site.Database + file); err != nil || info.Mode().Perm() != mode {
			t.Errorf("%s: %v, %v", file, info, err)
		}
	}
}

// The plain door shows nothing of the batches: only the root, how to take it, and
// the way to https.
func TestThePlainDoor(t *testing.T) {
	s := ownShop(t)
	s.open()
	client := &http.Client{}
	if link := s.app.PlainLink(); link != strings.Replace(s.app.PlainAddress(), "127.0.0.1", "smokehouse.lan", 1) {
		t.Errorf("phones are told %s, it listens on %s", link, s.app.PlainAddress())
	}
	if resp, body := fetch(t, client, s.app.PlainAddress()+"/trust"); resp.StatusCode != http.StatusOK ||
		!strings.Contains(body, s.app.RootFingerprint()) || !strings.Contains(body, "https://smokehouse.lan:8411/phones") || !strings.Contains(body, "/root.crt") {
		t.Errorf("%s %s", resp.Status, body)
	}
	for path, want := range map[string]string{"/": "/trust", "/alarms/17?x=1": "https://smokehouse.lan:8411/alarms/17?x=1", "//evil.example/x": "/evil.example/x",
		"/a/abc": "https://smokehouse.lan:8411/a/abc", "/api/glance": "https://smokehouse.lan:8411/api/glance"} {
		resp, _ := fetch(t, client, s.app.PlainAddress()+path)
		if resp.StatusCode < 300 || resp.StatusCode > 399 || resp.Header.Get("Location") != want {
			t.Errorf("%s: %s to %q, want %q", path, resp.Status, resp.Header.Get("Location"), want)
		}
	}
	resp, err := client.Post(s.app.PlainAddress()+"/api/commands", "application/json", strings.NewReader(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("a command by plain http: %s", resp.Status)
	}
	request, err := http.NewRequest(http.MethodGet, s.app.PlainAddress()+"/trust", nil)
	if err != nil {
		t.Fatal(err)
	}
	request.Host = "evil.example"
	if resp, err = client.Do(request); err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusForbidden {
		t.Errorf("called by another name: %s", resp.Status)
	}
}

// The names changed to one that the root may not speak for: that is told, with what
// to do, and nothing stays open.
func TestNamesThatTheRootMayNotSpeakFor(t *testing.T) {
	s := ownShop(t)
	s.open()
	s.close()
	s.cfg.Page.Names = []string{"smokehouse.example.org"}
	_, err := New(s.cfg, Options{Log: slog.New(slog.DiscardHandler)})
	if !errors.Is(err, certificate.ErrNames) || !strings.Contains(err.Error(), "page.names") || !strings.Contains(err.Error(), "remove "+s.cfg.Site.Database+".root.key") {
		t.Fatalf("err = %v", err)
	}
	if err := os.Remove(s.cfg.Site.Database + ".root.key"); err != nil {
		t.Fatal(err)
	}
	s.open()
	root, err := os.ReadFile(RootFile(s.cfg.Site.Database))
	if err != nil {
		t.Fatal(err)
	}
	fetch(t, trusting(t, root, "smokehouse.example.org"), s.app.Address()+"/trust")
}

// A certificate from files, and one that cannot be used.
func TestThePageByHTTPSWithAGivenCertificate(t *testing.T) {
	s := newShop(t)
	dir := t.TempDir()
	authority, err := certificate.OpenAuthority(filepath.Join(dir, "root"), "Elsewhere", nil, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	own, err := certificate.NewOwn(authority, []string{"smokehouse.lan"}, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := own.Get(nil)
	if err != nil {
		t.Fatal(err)
	}
	key, err := x509.MarshalPKCS8PrivateKey(leaf.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	s.cfg.Page.TLS, s.cfg.Page.Certificate, s.cfg.Page.Key = config.Given, filepath.Join(dir, "page.crt"), filepath.Join(dir, "page.key")
	for file, block := range map[string]*pem.Block{s.cfg.Page.Certificate: {Type: "CERTIFICATE", Bytes: leaf.Certificate[0]}, s.cfg.Page.Key: {Type: "PRIVATE KEY", Bytes: key}} {
		if err := os.WriteFile(file, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s.open()
	if resp, _ := fetch(t, trusting(t, authority.PEM(), "smokehouse.lan"), s.app.Address()+"/batches"); resp.StatusCode != http.StatusOK {
		t.Error(resp.Status)
	}
	if resp, _ := fetch(t, trusting(t, authority.PEM(), "smokehouse.lan"), s.app.Address()+"/root.crt"); resp.StatusCode != http.StatusNotFound {
		t.Errorf("a root that is not ours to hand out: %s", resp.Status)
	}
	s.close()
	if err := os.WriteFile(s.cfg.Page.Key, []byte("hunter2"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := New(s.cfg, Options{Log: slog.New(slog.DiscardHandler)}); err == nil || strings.Contains(err.Error(), "hunter2") {
		t.Errorf("err = %v", err)
	}
}

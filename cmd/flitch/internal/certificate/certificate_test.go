package certificate

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

func authority(t *testing.T, names ...string) (*Authority, string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "flitch.db.root.key")
	a, err := OpenAuthority(path, "Plover Shed", names, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	return a, path
}

// good verifies a certificate with nothing but the root that people download.
func good(t *testing.T, root []byte, leaf *tls.Certificate, name string, at time.Time) error {
	t.Helper()
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(root) {
		t.Fatal("the root is no certificate")
	}
	_, err := leaf.Leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: at})
	return err
}

func own(t *testing.T, a *Authority, names ...string) *Own {
	t.Helper()
	o, err := NewOwn(a, names, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func now(t *testing.T, get func(*tls.ClientHelloInfo) (*tls.Certificate, error)) *tls.Certificate {
	t.Helper()
	leaf, err := get(nil)
	if err != nil {
		t.Fatal(err)
	}
	return leaf
}

func TestTheRootIsMadeOnce(t *testing.T) {
	first, path := authority(t, "smokehouse.example.org")
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	again, err := OpenAuthority(path, "Another Name", nil, time.Now())
	if err != nil || again.Fingerprint() != first.Fingerprint() {
		t.Fatalf("fingerprint %s became %s, %v", first.Fingerprint(), again.Fingerprint(), err)
	}
	if strings.Contains(string(first.PEM()), "PRIVATE") || len(first.Fingerprint()) != 32*3-1 {
		t.Errorf("published: %s %s", first.PEM(), first.Fingerprint())
	}
	leaf := now(t, own(t, again, "smokehouse.example.org", "192.168.1.20").Get)
	for _, name := range []string{"smokehouse.example.org", "192.168.1.20", "localhost", "127.0.0.1", "::1"} {
		if err := good(t, first.PEM(), leaf, name, time.Now()); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := good(t, first.PEM(), leaf, "smokehouse.lan", time.Now()); err == nil {
		t.Error("the certificate is for a name nobody asked for")
	}
	if lasts := leaf.Leaf.NotAfter.Sub(leaf.Leaf.NotBefore); lasts > 397*24*time.Hour {
		t.Errorf("it lasts %s", lasts)
	}
}

// A root whose key was stolen speaks for no stranger's name or address.
func TestTheRootIsForTheHouseOnly(t *testing.T) {
	a, _ := authority(t, "smokehouse.lan")
	for _, name := range []string{"bank.example.com", "8.8.8.8", "smokehouse.example.org"} {
		_, err := NewOwn(a, []string{name}, time.Now)
		if !errors.Is(err, ErrNames) {
			t.Errorf("%s: %v, want %v", name, err, ErrNames)
		}
	}
	for _, name := range []string{"new-name.lan", "shed.local", "10.1.2.3", "fd00::7"} {
		own(t, a, name)
	}
}

func TestAnAuthorityThatCannotBeUsed(t *testing.T) {
	_, path := authority(t)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, key := pem.Decode(good)
	for name, text := range map[string][]byte{"empty": nil, "rubbish": []byte("hunter2"), "half": good[:len(good)-len(key)]} {
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := OpenAuthority(path, "Plover Shed", nil, time.Now())
		if err == nil || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "remove it") || strings.Contains(err.Error(), "hunter2") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// The certificate is made anew before its end, without a restart, and is good at
// every moment of the ten years of its root.
func TestTheCertificateIsRenewed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(30 * 365 * 24 * time.Hour) // from 2000 on: a clock that can be believed
		a, _ := authority(t, "smokehouse.lan")
		o := own(t, a, "smokehouse.lan")
		seen := map[string]bool{}
		for day := range 365*rootLasts - 40 {
			leaf := now(t, o.Get)
			seen[leaf.Leaf.SerialNumber.String()] = true
			if err := good(t, a.PEM(), leaf, "smokehouse.lan", time.Now()); err != nil {
				t.Fatalf("day %d: %v", day, err)
			}
			if left := time.Until(leaf.Leaf.NotAfter); left < 29*24*time.Hour && day < 365*rootLasts-100 {
				t.Fatalf("day %d: %s are left", day, left)
			}
			time.Sleep(24 * time.Hour)
		}
		if n := len(seen); n < 55 || n > 120 {
			t.Errorf("%d certificates in ten years", n)
		}
	})
}

// A board that wakes in 1970 makes a root that is good once its clock is right,
// and the certificate follows.
func TestAClockThatWasSet(t *testing.T) {
	at := time.Unix(1000, 0)
	path := filepath.Join(t.TempDir(), "root")
	a, err := OpenAuthority(path, "Plover Shed", nil, at)
	if err != nil {
		t.Fatal(err)
	}
	o, err := NewOwn(a, []string{"smokehouse.lan"}, func() time.Time { return at })
	if err != nil {
		t.Fatal(err)
	}
	now(t, o.Get)
	for _, set := range []time.Time{time.Date(2027, 3, 4, 0, 0, 0, 0, time.UTC), time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)} {
		at = set
		if err := good(t, a.PEM(), now(t, o.Get), "smokehouse.lan", at); err != nil {
			t.Errorf("%s: %v", set, err)
		}
	}
	at = a.Ends().AddDate(1, 0, 0) // over: the page still answers, with what phones will complain about
	now(t, o.Get)
	if _, err := NewOwn(a, []string{"smokehouse.lan"}, func() time.Time { return at }); err != nil {
		t.Errorf("a start after the end of the root: %v", err)
	}
}

// pair writes a certificate for name with its key.
func pair(t *testing.T, dir, name string) {
	t.Helper()
	a, _ := authority(t, name)
	leaf := now(t, own(t, a, name).Get)
	secret, err := x509.MarshalPKCS8PrivateKey(leaf.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "page.crt"), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: leaf.Certificate[0]}))
	write(t, filepath.Join(dir, "page.key"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}))
}

var written = time.Date(2031, 1, 1, 0, 0, 0, 0, time.UTC)

// write gives each file a time of its own: two in one tick of the disk's clock
// would look the same.
func write(t *testing.T, path string, data []byte) {
	t.Helper()
	written = written.Add(time.Second)
	if err := errors.Join(os.WriteFile(path, data, 0o600), os.Chtimes(path, written, written)); err != nil {
		t.Fatal(err)
	}
}

func TestARenewedFileIsTaken(t *testing.T) {
	dir, at := t.TempDir(), time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)
	pair(t, dir, "first.lan")
	var log strings.Builder
	g, err := NewGiven(filepath.Join(dir, "page.crt"), filepath.Join(dir, "page.key"), func() time.Time { return at }, slog.New(slog.NewTextHandler(&log, nil)))
	if err != nil {
		t.Fatal(err)
	}
	is := func(want string) {
		t.Helper()
		if got := now(t, g.Get).Leaf.DNSNames[0]; got != want {
			t.Errorf("the certificate is for %s, want %s", got, want)
		}
	}
	pair(t, dir, "second.lan")
	at = at.Add(30 * time.Second)
	is("first.lan") // not looked at again yet
	at = at.Add(time.Minute)
	is("second.lan")

	write(t, filepath.Join(dir, "page.crt"), []byte("half a certif"))
	for range 3 {
		at = at.Add(time.Hour)
		is("second.lan")
	}
	if n := strings.Count(log.String(), "cannot be used"); n != 1 {
		t.Errorf("told %d times:\n%s", n, log.String())
	}
	if err := os.Remove(filepath.Join(dir, "page.key")); err != nil {
		t.Fatal(err)
	}
	at = at.Add(time.Hour)
	is("second.lan")
	pair(t, dir, "third.lan")
	at = at.Add(-24 * time.Hour) // the clock was set back
	is("third.lan")
}

func TestAGivenFileThatCannotBeUsed(t *testing.T) {
	dir := t.TempDir()
	pair(t, dir, "first.lan")
	if _, err := NewGiven(filepath.Join(dir, "page.crt"), filepath.Join(dir, "none.key"), time.Now, slog.New(slog.DiscardHandler)); err == nil {
		t.Error("a missing key was taken")
	}
}

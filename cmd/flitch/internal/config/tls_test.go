package config

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// write makes page.crt, which ends then, and page.key.
func write(t *testing.T, dir string, ends time.Time) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	form := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: ends.AddDate(-2, 0, 0), NotAfter: ends,
		DNSNames: []string{"*.plover.lan", "Smokehouse.lan"}, IPAddresses: []net.IP{net.IPv4(192, 168, 1, 20)}}
	raw, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	for name, block := range map[string]*pem.Block{"page.crt": {Type: "CERTIFICATE", Bytes: raw}, "page.key": {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(filepath.Join(dir, name), pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

const givenPage = `
[site]
name = "Plover Shed"
zone = "UTC"
[page]
tls = "given"
certificate = "page.crt"
key = "page.key"
MORE
anonymous = true
[[place]]
name = "garage"
kind = "fridge"
[[probe]]
name = "bottle"
place = "garage"
measures = "product"
topic = "shed/bottle"
unit = "C"
`

// given loads a configuration beside the certificate.
func given(t *testing.T, dir, more string) (*Config, error) {
	t.Helper()
	return parse(filepath.Join(dir, "flitch.toml"), []byte(strings.Replace(givenPage, "MORE", more, 1)), nil, theVault())
}

func TestAGivenCertificate(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, time.Now().AddDate(1, 0, 0))
	c, err := given(t, dir, "")
	if err != nil {
		t.Fatal(err)
	}
	if c.Page.Link != "https://smokehouse.lan:8411" || strings.Join(c.Page.Names, " ") != "smokehouse.lan 192.168.1.20" ||
		c.Page.Certificate != filepath.Join(dir, "page.crt") || c.Page.Key != filepath.Join(dir, "page.key") {
		t.Errorf("page %+v", c.Page)
	}
	for _, link := range []string{"https://shed.plover.lan", "https://SMOKEHOUSE.lan:443/flitch", "https://192.168.1.20:8411"} {
		if _, err := given(t, dir, "link = \""+link+"\""); err != nil {
			t.Errorf("%s: %v", link, err)
		}
	}
}

func TestWhatIsWrongWithAGivenCertificate(t *testing.T) {
	for _, c := range []struct {
		name   string
		more   string
		harm   func(dir string)
		starts bool // all the same
		want   []string
	}{
		{name: "over", starts: true, harm: func(dir string) { write(t, dir, time.Date(2021, 3, 4, 0, 0, 0, 0, time.UTC)) },
			want: []string{":7: page.certificate: is good from 4 Mar 2019 to 4 Mar 2021, and today is not between; type: nothing, renew the certificate"}},
		{name: "not yet", starts: true, harm: func(dir string) { write(t, dir, time.Now().AddDate(9, 0, 0)) }, want: []string{":7: page.certificate: is good from"}},
		{name: "key of another", harm: func(dir string) {
			other := t.TempDir()
			write(t, other, time.Now().AddDate(1, 0, 0))
			if err := os.Rename(filepath.Join(other, "page.key"), filepath.Join(dir, "page.key")); err != nil {
				t.Fatal(err)
			}
		}, want: []string{":8: page.key: is not the key of the certificate: private key does not match public key"}},
		{name: "no key in it", harm: func(dir string) { must(t, os.WriteFile(filepath.Join(dir, "page.key"), []byte("hunter2"), 0o600)) },
			want: []string{":8: page.key: is not the key of the certificate"}},
		{name: "no certificate in it", harm: func(dir string) { must(t, os.WriteFile(filepath.Join(dir, "page.crt"), []byte("hunter2"), 0o600)) },
			want: []string{":7: page.certificate: holds no PEM certificate"}},
		{name: "both missing", harm: func(dir string) {
			must(t, os.Remove(filepath.Join(dir, "page.crt")))
			must(t, os.Remove(filepath.Join(dir, "page.key")))
		}, want: []string{"page.crt cannot be read: no such file", "page.key cannot be read: no such file"}},
		{name: "over and of another key", harm: func(dir string) {
			key, err := os.ReadFile(filepath.Join(dir, "page.key"))
			must(t, err)
			write(t, dir, time.Date(2021, 3, 4, 0, 0, 0, 0, time.UTC))
			must(t, os.WriteFile(filepath.Join(dir, "page.key"), key, 0o600))
		}, want: []string{"is good from", "is not the key"}},
		{name: "link elsewhere", more: `link = "https://elsewhere.lan"`,
			want: []string{":9: page.link: the certificate is not for elsewhere.lan but for smokehouse.lan, 192.168.1.20; type: link = \"https://smokehouse.lan:8411\""}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			write(t, dir, time.Now().AddDate(1, 0, 0))
			if c.harm != nil {
				c.harm(dir)
			}
			loaded, err := given(t, dir, c.more)
			if err == nil && loaded.Doubts != nil {
				err = loaded.Doubts
			} else if c.starts {
				t.Errorf("it would not start: %v", err)
			}
			if err == nil {
				t.Fatal("no problem was found")
			}
			if lines := strings.Split(err.Error(), "\n"); len(lines) != len(c.want) || strings.Contains(err.Error(), "hunter2") {
				t.Errorf("%d problems:\n%v", len(lines), err)
			}
			for _, want := range c.want {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("no %q in\n%v", want, err)
				}
			}
		})
	}
}

// A person who may not read the key can still ask where the daemon listens.
func TestAGivenCertificateWithoutSecrets(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, time.Now().AddDate(1, 0, 0))
	must(t, os.Remove(filepath.Join(dir, "page.key")))
	c, err := parse(filepath.Join(dir, "flitch.toml"), []byte(strings.Replace(givenPage, "MORE", "", 1)), nil, sealedVault())
	if err != nil || c.Page.TLS != Given {
		t.Errorf("page %+v, %v", c, err)
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

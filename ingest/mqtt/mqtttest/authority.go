package mqtttest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// An Authority signs certificates for a test.
type Authority struct {
	CAFile string // PEM

	t    testing.TB
	dir  string
	root *x509.Certificate
	key  *ecdsa.PrivateKey
	made int64
}

// NewAuthority makes one that lives as long as the test.
func NewAuthority(t testing.TB) *Authority {
	t.Helper()
	a := &Authority{t: t, dir: t.TempDir()}
	form := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "authority of a test"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(24 * time.Hour),
		KeyUsage: x509.KeyUsageCertSign, BasicConstraintsValid: true, IsCA: true,
	}
	a.key = a.newKey()
	raw, err := x509.CreateCertificate(rand.Reader, form, form, a.key.Public(), a.key)
	if err == nil {
		a.root, err = x509.ParseCertificate(raw)
	}
	if err != nil {
		t.Fatal(err)
	}
	a.CAFile = a.write("ca.crt", "CERTIFICATE", raw)
	return a
}

// Issue writes a certificate for 127.0.0.1 and localhost, good for a server and for a
// client, and returns the paths of it and of its key, PEM.
func (a *Authority) Issue(name string) (certificate, key string) {
	a.t.Helper()
	a.made++
	form := &x509.Certificate{
		SerialNumber: big.NewInt(1 + a.made), Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
		DNSNames:    []string{"localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	own := a.newKey()
	raw, err := x509.CreateCertificate(rand.Reader, form, a.root, own.Public(), a.key)
	if err != nil {
		a.t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(own)
	if err != nil {
		a.t.Fatal(err)
	}
	return a.write(name+".crt", "CERTIFICATE", raw), a.write(name+".key", "PRIVATE KEY", secret)
}

func (a *Authority) newKey() *ecdsa.PrivateKey {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	return key
}

func (a *Authority) write(name, kind string, raw []byte) string {
	path := filepath.Join(a.dir, name)
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: raw}), 0o600); err != nil {
		a.t.Fatal(err)
	}
	return path
}

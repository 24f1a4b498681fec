package certificate

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"strings"
	"time"

	"flitch/cmd/flitch/internal/keyfile"
)

// rootLasts is ten years: each new root is a walk to every phone. Proposal.
const rootLasts = 10

// believable is a time that is past wherever this runs. A board that wakes in 1970
// must not make a root that is over before its clock is right.
var believable = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

// An Authority is the root by which this installation signs certificates for its
// page, and for nothing else: should its key be stolen, the root still speaks for
// the house alone, not for a bank.
type Authority struct {
	root *x509.Certificate
	key  *ecdsa.PrivateKey
}

// OpenAuthority reads the authority at path, one file with certificate and key in
// PEM, for its owner only, and makes it on the first run. site is for people, who
// find the root by it in the list of their phone. names are those it may speak for
// beside the usual ones of a house.
func OpenAuthority(path, site string, names []string, now time.Time) (*Authority, error) {
	data, err := keyfile.Load(path, func() ([]byte, error) { return newAuthority(site, names, now) })
	if err != nil {
		return nil, err
	}
	pair, err := tls.X509KeyPair(data, data)
	if err == nil {
		if key, ok := pair.PrivateKey.(*ecdsa.PrivateKey); ok && pair.Leaf.IsCA {
			return &Authority{root: pair.Leaf, key: key}, nil
		}
		err = fmt.Errorf("it is not an authority of flitch")
	}
	return nil, fmt.Errorf("%s cannot be used: %w; remove it: a new one is made, and each phone has to install the new root", path, err)
}

func newAuthority(site string, names []string, now time.Time) ([]byte, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	form := &x509.Certificate{
		SerialNumber:          serial(),
		Subject:               pkix.Name{CommonName: "flitch root of " + site, Organization: []string{"flitch"}},
		NotBefore:             latest(now.Add(-24*time.Hour), believable), // the phone's clock may be a little behind
		KeyUsage:              x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
	}
	form.NotAfter = form.NotBefore.AddDate(rootLasts, 0, 0)
	constrain(form, names)
	raw, err := x509.CreateCertificate(rand.Reader, form, form, key.Public(), key)
	if err != nil {
		return nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, err
	}
	return append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw}),
		pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret})...), nil
}

// constrain limits the root to what houses use (RFC 5280, section 4.2.1.10): names
// that nobody owns on the internet, private addresses, and the given names.
func constrain(form *x509.Certificate, names []string) {
	form.PermittedDNSDomainsCritical = true
	form.PermittedDNSDomains = []string{"localhost", "local", "lan", "internal", "home.arpa"}
	for _, space := range []string{"127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10", "::1/128", "fc00::/7", "fe80::/10"} {
		_, network, _ := net.ParseCIDR(space) // constants
		form.PermittedIPRanges = append(form.PermittedIPRanges, network)
	}
	for _, name := range names {
		if ip := net.ParseIP(name); ip != nil {
			form.PermittedIPRanges = append(form.PermittedIPRanges, alone(ip))
		} else {
			form.PermittedDNSDomains = append(form.PermittedDNSDomains, name)
		}
	}
}

// alone is the network of one address.
func alone(ip net.IP) *net.IPNet {
	if four := ip.To4(); four != nil {
		ip = four
	}
	return &net.IPNet{IP: ip, Mask: net.CIDRMask(8*len(ip), 8*len(ip))}
}

// PEM is the root certificate, which is no secret.
func (a *Authority) PEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.root.Raw})
}

// Ends is when the root is over.
func (a *Authority) Ends() time.Time { return a.root.NotAfter }

// Fingerprint is what people compare with what their phone shows: SHA-256 of the
// root, in hex, with a colon after each byte.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.root.Raw)
	parts := make([]string, len(sum))
	for i, b := range sum {
		parts[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(parts, ":")
}

// serial is 127 bits of chance (RFC 5280, section 4.1.2.2: positive, at most 20
// bytes).
func serial() *big.Int {
	raw := make([]byte, 16)
	rand.Read(raw) // never fails
	raw[0] &= 0x7f
	return new(big.Int).SetBytes(raw)
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

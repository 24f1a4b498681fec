package certificate

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"net"
	"slices"
	"sync"
	"time"
)

// A certificate of the page lasts 90 days and is made anew a month before its end:
// proposals, well under the 398 days that browsers allow (CA/Browser Forum Baseline
// Requirements, 6.3.2; they bind public authorities, and this one keeps to them).
const (
	leafLasts = 90 * 24 * time.Hour
	leafAnew  = 30 * 24 * time.Hour
)

// Own makes the certificates of the page from an authority. They live in memory
// only: a start makes a new one, and so does a handshake when the last is near its
// end, or the clock was set.
type Own struct {
	authority *Authority
	names     []string
	now       func() time.Time

	mu      sync.Mutex
	current *tls.Certificate
}

// NewOwn returns the certificates for names, host names and addresses, and for
// this machine itself. The error says when the root may not speak for one of them.
func NewOwn(a *Authority, names []string, now func() time.Time) (*Own, error) {
	o := &Own{authority: a, names: slices.Compact(append(slices.Clone(names), "localhost", "127.0.0.1", "::1")), now: now}
	leaf, err := o.issue(now())
	if err != nil {
		return nil, err
	}
	o.current = leaf
	roots := x509.NewCertPool()
	roots.AddCert(a.root)
	for _, name := range o.names {
		_, err := leaf.Leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: leaf.Leaf.NotBefore.Add(time.Hour)})
		if err != nil {
			return nil, notCovered(a, err)
		}
	}
	return o, nil
}

// ErrNames means that the root was made for other names.
var ErrNames = errors.New("the root certificate may not speak for one of the names of the page")

func notCovered(a *Authority, err error) error {
	return fmt.Errorf("%w: %w; it was made on %s", ErrNames, err, a.root.NotBefore.Format("2 Jan 2006"))
}

// Get returns the certificate of now; it is for tls.Config.GetCertificate.
func (o *Own) Get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	now := o.now()
	if leaf := o.current.Leaf; !now.Before(leaf.NotBefore) && now.Before(leaf.NotAfter.Add(-leafAnew)) {
		return o.current, nil
	}
	if now.Before(o.authority.root.NotBefore) || now.After(o.authority.root.NotAfter) {
		return o.current, nil // nothing that is made now would be taken
	}
	anew, err := o.issue(now)
	if err != nil {
		return nil, err
	}
	o.current = anew
	return anew, nil
}

// issue makes a certificate that is good at now, within the time of the root.
func (o *Own) issue(now time.Time) (*tls.Certificate, error) {
	root := o.authority.root
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	form := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: o.names[0]},
		NotBefore:   latest(now.Add(-24*time.Hour), root.NotBefore), // the phone's clock may be a little behind
		KeyUsage:    x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	if form.NotBefore.After(root.NotAfter) {
		form.NotBefore = root.NotAfter.Add(-leafLasts)
	}
	form.NotAfter = form.NotBefore.Add(leafLasts)
	if form.NotAfter.After(root.NotAfter) {
		form.NotAfter = root.NotAfter
	}
	for _, name := range o.names {
		if ip := net.ParseIP(name); ip != nil {
			form.IPAddresses = append(form.IPAddresses, ip)
		} else {
			form.DNSNames = append(form.DNSNames, name)
		}
	}
	raw, err := x509.CreateCertificate(rand.Reader, form, root, key.Public(), o.authority.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(raw)
	return &tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key, Leaf: leaf}, err
}

package config

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"regexp"
	"strings"
)

// hostName is a name as it stands in a certificate and in an address (RFC 1123,
// section 2.1).
var hostName = regexp.MustCompile(`^[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)*$`)

const exampleNames = `names = ["smokehouse.lan", "192.168.1.20"]`

// readTLS reads by which certificate the page is served, and looks at the files.
func readTLS(t *table, page *Page) {
	s := readServed(t, "page")
	page.TLS, page.Names, page.Certificate, page.Key = s.mode, s.names, s.certificate, s.key
	if page.TLS == Own {
		page.Plain = t.door("plain", "", "0.0.0.0:8410")
	} else {
		t.foreign(`is only for tls = "own"`, "plain")
	}
}

// served is by which certificate one of our doors answers.
type served struct {
	mode             TLSMode
	names            []string
	certificate, key string // paths
}

// readServed reads the keys of a door's certificate; of is the door, as its files are
// called in examples.
func readServed(t *table, of string) served {
	s := served{mode: TLSMode(t.choice("tls", string(NoTLS), string(NoTLS), string(Own), string(Given)))}
	if s.mode != Own {
		t.foreign(`is only for tls = "own"`, "names")
	}
	if s.mode != Given {
		t.foreign(`is only for tls = "given"`, "certificate", "key")
	}
	switch s.mode {
	case Own:
		s.names = readNames(t)
	case Given:
		s.readGiven(t, of)
	}
	return s
}

// readNames reads what phones call this machine.
func readNames(t *table) (names []string) {
	value, ok := t.get("names")
	if !ok {
		t.missing("names", exampleNames)
		return nil
	}
	list, ok := value.([]any)
	if !ok || len(list) == 0 {
		t.problem("names", shown(value), "is not a list of names and addresses", exampleNames)
		return nil
	}
	for _, item := range list {
		text, _ := item.(string)
		name := strings.ToLower(text)
		if ip, err := netip.ParseAddr(name); err != nil && !hostName.MatchString(name) || err == nil && (ip.Zone() != "" || ip.IsUnspecified()) {
			t.problem("names", shown(item), fmt.Sprintf("%q is not a host name or address, without http:// and port", shown(item)), exampleNames)
			continue
		}
		names = append(names, name)
	}
	return names
}

// readGiven reads the certificate and its key as the door will, so that what is
// wrong with them is told before the start.
func (s *served) readGiven(t *table, of string) {
	leaf := readPair(t, "certificate", "key", "tls/"+of)
	s.certificate, s.key = t.doc.resolve(t.text("certificate")), t.doc.resolve(t.text("key"))
	if leaf != nil {
		s.names = namesOf(leaf)
	}
}

// readPair checks a certificate and its key, and returns the certificate when it can be
// read. example is the beginning of the files' names in hints.
func readPair(t *table, certificateKey, keyKey, example string) *x509.Certificate {
	certificate, certificateRead := readFile(t, certificateKey, example+".crt")
	key, keyRead := readFile(t, keyKey, example+".key")
	if !certificateRead || string(certificate) == hidden {
		return nil
	}
	leaf := firstCertificate(t, certificateKey, example, certificate)
	if leaf == nil {
		return nil
	}
	if keyRead && string(key) != hidden {
		checkKey(t, keyKey, example, certificate, key)
	}
	checkTime(t, certificateKey, leaf)
	return leaf
}

func readFile(t *table, key, example string) ([]byte, bool) {
	name := t.need(key, example)
	if name == "" {
		return nil, false
	}
	data, err := t.doc.vault.file(t.doc.resolve(name))
	if err != nil {
		t.problem(key, name, fmt.Sprintf("%s cannot be read: %s", t.doc.resolve(name), reason(err)), fmt.Sprintf("%s = %q", key, example))
		return nil, false
	}
	return data, true
}

// firstCertificate is the one of the door itself; those behind it lead to its root.
func firstCertificate(t *table, key, example string, pem []byte) *x509.Certificate {
	chain, err := certificates(pem)
	if err != nil || len(chain) == 0 {
		t.problem(key, t.text(key), "holds no PEM certificate",
			fmt.Sprintf("%s = %q, its own first and those between it and the root after it", key, example+".crt"))
		return nil
	}
	return chain[0]
}

func checkKey(t *table, keyKey, example string, certificate, key []byte) {
	if _, err := tls.X509KeyPair(certificate, key); err != nil {
		t.problem(keyKey, t.text(keyKey), "is not the key of the certificate: "+strings.TrimPrefix(err.Error(), "tls: "), fmt.Sprintf("%s = %q", keyKey, example+".key"))
	}
}

// checkTime lets the library compare with the machine's clock, which this package
// does not ask.
func checkTime(t *table, key string, leaf *x509.Certificate) {
	alone := x509.NewCertPool()
	alone.AddCert(leaf)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: alone, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageAny}})
	if invalid, ok := errors.AsType[x509.CertificateInvalidError](err); ok && invalid.Reason == x509.Expired {
		const day = "2 Jan 2006"
		t.doubt(key, t.text(key), fmt.Sprintf("is good from %s to %s, and today is not between", leaf.NotBefore.Format(day), leaf.NotAfter.Format(day)),
			"nothing, renew the certificate; or set the clock")
	}
}

// namesOf are what a certificate is for, without those that stand for many.
func namesOf(leaf *x509.Certificate) (names []string) {
	for _, name := range leaf.DNSNames {
		if !strings.HasPrefix(name, "*") {
			names = append(names, strings.ToLower(name))
		}
	}
	for _, ip := range leaf.IPAddresses {
		names = append(names, ip.String())
	}
	return names
}

// address is the page as a phone calls it when the file does not say: the first
// name of the certificate, else what the page listens on.
func (p Page) address() string {
	if p.TLS == NoTLS {
		return "http://" + p.Listen
	}
	_, port, _ := net.SplitHostPort(p.Listen) // listen has looked at it
	host := "localhost"
	if len(p.Names) > 0 {
		host = p.Names[0]
	}
	return "https://" + net.JoinHostPort(host, port)
}

// doubtLink says that nobody can open the address of all networks of a machine, which
// stands in messages and guest links when no other is given.
func doubtLink(t *table, page Page) {
	link, err := url.Parse(page.Link)
	if err != nil {
		return
	}
	if ip := net.ParseIP(link.Hostname()); ip != nil && ip.IsUnspecified() {
		t.doubt("link", page.Link, "stands in messages and guest links, and no phone can open it",
			fmt.Sprintf(`link = "http://smokehouse.lan:%s", or the address of this machine`, link.Port()))
	}
}

// checkLink refuses a link that a phone would not follow with an easy mind.
func checkLink(t *table, page Page) {
	link, err := url.Parse(page.Link)
	if err != nil || page.TLS == NoTLS || !t.has("link") {
		return
	}
	if link.Scheme != "https" {
		t.problem("link", "", "begins with http://, and the page is served by https", fmt.Sprintf("link = %q", page.address()))
		return
	}
	for _, name := range page.Names {
		if strings.EqualFold(name, link.Hostname()) {
			return
		}
	}
	if len(page.Names) > 0 && !coversByPattern(t, page, link.Hostname()) {
		t.problem("link", page.Link, fmt.Sprintf("the certificate is not for %s but for %s", link.Hostname(), strings.Join(page.Names, ", ")),
			fmt.Sprintf("link = %q", page.address()))
	}
}

// coversByPattern looks at names such as *.larder.example.
func coversByPattern(t *table, page Page, host string) bool {
	if page.TLS != Given {
		return false
	}
	data, err := t.doc.vault.file(page.Certificate)
	if err != nil {
		return false
	}
	chain, err := certificates(data)
	return err == nil && len(chain) > 0 && chain[0].VerifyHostname(host) == nil
}

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
	page.TLS = TLSMode(t.choice("tls", string(NoTLS), string(NoTLS), string(Own), string(Given)))
	if page.TLS != Own {
		t.foreign(`is only for tls = "own"`, "names", "plain")
	}
	if page.TLS != Given {
		t.foreign(`is only for tls = "given"`, "certificate", "key")
	}
	switch page.TLS {
	case Own:
		page.Names = readNames(t)
		page.Plain = t.door("plain", "", "0.0.0.0:8410")
	case Given:
		readGiven(t, page)
	}
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

// readGiven reads the certificate and its key as the page will, so that what is
// wrong with them is told before the start.
func readGiven(t *table, page *Page) {
	certificate, certificateRead := readFile(t, "certificate", "tls/page.crt")
	key, keyRead := readFile(t, "key", "tls/page.key")
	page.Certificate, page.Key = t.doc.resolve(t.text("certificate")), t.doc.resolve(t.text("key"))
	if !certificateRead || string(certificate) == hidden {
		return
	}
	leaf := firstCertificate(t, certificate)
	if leaf == nil {
		return
	}
	page.Names = namesOf(leaf)
	if keyRead && string(key) != hidden {
		checkKey(t, certificate, key)
	}
	checkTime(t, leaf)
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

// firstCertificate is the one of the page; those behind it lead to its root.
func firstCertificate(t *table, pem []byte) *x509.Certificate {
	chain, err := certificates(pem)
	if err != nil || len(chain) == 0 {
		t.problem("certificate", t.text("certificate"), "holds no PEM certificate", `certificate = "tls/page.crt", the page's first and those between it and the root after it`)
		return nil
	}
	return chain[0]
}

func checkKey(t *table, certificate, key []byte) {
	if _, err := tls.X509KeyPair(certificate, key); err != nil {
		t.problem("key", t.text("key"), "is not the key of the certificate: "+strings.TrimPrefix(err.Error(), "tls: "), `key = "tls/page.key"`)
	}
}

// checkTime lets the library compare with the machine's clock, which this package
// does not ask.
func checkTime(t *table, leaf *x509.Certificate) {
	alone := x509.NewCertPool()
	alone.AddCert(leaf)
	_, err := leaf.Verify(x509.VerifyOptions{Roots: alone, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageAny}})
	if invalid, ok := errors.AsType[x509.CertificateInvalidError](err); ok && invalid.Reason == x509.Expired {
		const day = "2 Jan 2006"
		t.doubt("certificate", t.text("certificate"), fmt.Sprintf("is good from %s to %s, and today is not between", leaf.NotBefore.Format(day), leaf.NotAfter.Format(day)),
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

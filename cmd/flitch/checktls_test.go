package main

import (
	"bytes"
	"crypto/x509"
	"encoding/pem"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/certificate"
)

// A certificate that is over is a problem for check, with its line; it is no
// reason for the daemon not to start.
func TestCheckTellsOfACertificateThatIsOver(t *testing.T) {
	dir := t.TempDir()
	then := func() time.Time { return time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC) }
	authority, err := certificate.OpenAuthority(filepath.Join(dir, "root"), "Plover Shed", nil, then())
	if err != nil {
		t.Fatal(err)
	}
	own, err := certificate.NewOwn(authority, []string{"smokehouse.lan"}, then)
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
	for name, data := range map[string][]byte{
		"page.crt":    pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: leaf.Certificate[0]}),
		"page.key":    pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key}),
		"flitch.toml": []byte(overdueConfig),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	path := filepath.Join(dir, "flitch.toml")
	var out, complaints bytes.Buffer
	code := execute([]string{"check", "--config", path}, terminal{out: &out, err: &complaints, env: os.Getenv})
	if code != exitProblem || !strings.Contains(out.String(), path+":7: page.certificate: is good from 31 May 2025 to 29 Aug 2025, and today is not between") ||
		!strings.Contains(complaints.String(), "1 problem; try: the text after type:; flitch run starts all the same") {
		t.Errorf("exit %d\n%s\n%s", code, &out, &complaints)
	}
	out.Reset()
	complaints.Reset()
	if err := os.Mkdir(filepath.Join(dir, "flitch.db"), 0o700); err != nil { // what a start ends at; without one it would wait
		t.Fatal(err)
	}
	code = execute([]string{"run", "--config", path}, terminal{out: &out, err: &complaints, env: os.Getenv})
	if code != exitProblem || !strings.Contains(complaints.String(), "today is not between") || !strings.Contains(complaints.String(), "is no plain file") {
		t.Errorf("the start did not come as far as the database, which is a folder: exit %d\n%s\n%s", code, &out, &complaints)
	}
}

const overdueConfig = `[site]
name = "Plover Shed"
zone = "UTC"
[page]
anonymous = true
tls = "given"
certificate = "page.crt"
key = "page.key"
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

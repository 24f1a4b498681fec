package fleet

import (
	"os"
	"strings"
	"testing"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/store/fleet/fleettest"
)

// Over TLS the other side proves who it is: with its authority all arrives, with another one not
// even the password is sent.
func TestTheOtherSideProvesWhoItIs(t *testing.T) {
	right, other := mqtttest.NewAuthority(t), mqtttest.NewAuthority(t)
	certificate, key := right.Issue("office")
	dir, err := os.MkdirTemp("", "flitch-tls-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	server := fleettest.StartIn(t, dir, "ssl=on", "ssl_cert_file="+fleettest.Secret(t, dir, certificate), "ssl_key_file="+fleettest.Secret(t, dir, key))
	h, s := houseAt(t, server), newShed(t)
	s.work(100)
	plain := h.URL(h.writer(), h.database)
	by := func(host, authority string) error {
		url := strings.Replace(strings.Replace(plain, "127.0.0.1", host, 1), "sslmode=disable", "sslmode=verify-full&sslrootcert="+authority, 1)
		return turn(s.sink(h.parse(url), "larder"))
	}
	wantTrouble(t, by("localhost", other.CAFile), Unreachable, "certificate")
	if len(h.readAll()) != 0 {
		t.Error("something was sent to a stranger")
	}
	if err := by("localhost", right.CAFile); err != nil {
		t.Fatal(err)
	}
	if bad := h.differs(s, "larder", true); bad != "" {
		t.Fatal(bad)
	}
}

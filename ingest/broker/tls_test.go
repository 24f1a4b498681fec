package broker_test

import (
	"crypto/tls"
	"slices"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/broker"
	"flitch/ingest/mqtt/mqtttest"
)

func secured(t testing.TB, a *mqtttest.Authority) *tls.Config {
	t.Helper()
	pair, err := tls.LoadX509KeyPair(a.Issue("broker"))
	if err != nil {
		t.Fatal(err)
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
}

// A real client that checks our certificate gets through; one that trusts another
// authority, or speaks plain text, does not.
func TestMosquittoPubOverTLS(t *testing.T) {
	a := mqtttest.NewAuthority(t)
	s, done := newShelf(t), newStored()
	in := start(t, s, mappings(), ingest.Options{Observe: done})
	b := serve(t, broker.Config{TLS: secured(t, a)}, in, quietLog())
	for qos := range 3 {
		if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "4", qos, "--cafile", a.CAFile); err != nil {
			t.Errorf("quality of service %d: %v", qos, err)
		}
	}
	done.Wait(t, 3, 0)
	if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "5", 1, "--cafile", mqtttest.NewAuthority(t).CAFile); err == nil {
		t.Error("a client that trusts another authority got through")
	}
	if err := mqtttest.Pub(t, b.Addr(), "alder/slow", "5", 1); err == nil {
		t.Error("plain text got through")
	}
	if got := s.Values(t, "alder-slow"); !slices.Equal(got, []float64{4, 4, 4}) {
		t.Errorf("on disk: %v", got)
	}
}

// A client that begins no TLS is not waited for: connections are counted, and a start of
// one is bounded in time by the deadline of the listener. Here: it says rubbish.
func TestRubbishInsteadOfTLSEndsAtOnce(t *testing.T) {
	in := start(t, newShelf(t), mappings(), ingest.Options{})
	b := serve(t, broker.Config{TLS: secured(t, mqtttest.NewAuthority(t)), MaxClients: 1}, in, quietLog())
	if _, err := mqtttest.Dial(b.Addr(), "plain"); err == nil {
		t.Fatal("let in")
	}
	deadline := time.Now().Add(patience)
	for b.Clients() > 0 && time.Now().Before(deadline) {
		<-time.After(time.Millisecond) // a real connection winding down
	}
	if n := b.Clients(); n != 0 {
		t.Errorf("%d connections are still counted", n)
	}
}

package mqtt_test

import (
	"fmt"
	"net"
	"os"
	"slices"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
)

// demanding is a mosquitto that wants TLS and a certificate of the authority.
func demanding(t *testing.T, a *mqtttest.Authority, lines ...string) *mqtttest.Mosquitto {
	t.Helper()
	certificate, key := a.Issue("broker")
	return mqtttest.StartMosquitto(t, append([]string{"cafile " + a.CAFile, "certfile " + certificate, "keyfile " + key,
		"require_certificate true", "use_identity_as_username true"}, lines...)...)
}

func url(m *mqtttest.Mosquitto) string {
	_, port, _ := net.SplitHostPort(m.Addr)
	return "ssl://localhost:" + port
}

// With the authority's certificate and one of our own we get in; with another authority,
// or without a certificate of ours, nothing is received and it is said why.
func TestClientCertificate(t *testing.T) {
	a := mqtttest.NewAuthority(t)
	m := demanding(t, a)
	certificate, key := a.Issue("flitch")
	good := mqtt.Config{URL: url(m), ClientID: "flitch-oddwick", CAFile: a.CAFile, CertFile: certificate, KeyFile: key}
	other, bare := good, good
	other.CAFile = mqtttest.NewAuthority(t).CAFile
	bare.CertFile, bare.KeyFile = "", ""
	for name, c := range map[string]mqtt.Config{"another authority": other, "no certificate": bare} {
		down := make(chan error, 100)
		events := mqtt.Events{Up: func(bool) { t.Errorf("%s: let in", name) }, Down: func(err error) {
			select {
			case down <- err:
			default:
			}
		}}
		in := start(t, newShelf(t), mappings(), ingest.Options{})
		sub, err := mqtt.Subscribe(c, in.Topics(), in, wall{}, events, quietLog())
		if err != nil {
			t.Fatal(err)
		}
		select {
		case err := <-down:
			if err == nil {
				t.Errorf("%s: no reason", name)
			}
		case <-time.After(patience):
			t.Errorf("%s: no word", name)
		}
		if err := in.Stop(); err != nil {
			t.Error(err)
		}
		sub.Close()
	}
	s, done, n := newShelf(t), newStored(), make(news, 100)
	in := start(t, s, mappings(), ingest.Options{Observe: done})
	sub, err := mqtt.Subscribe(good, in.Topics(), in, wall{}, n.events(), quietLog())
	if err != nil {
		t.Fatal(err)
	}
	n.expect(t, "up resumed=false")
	if err := mqtttest.Pub(t, m.Addr, "alder/slow", "4", 1, "--cafile", a.CAFile, "--cert", certificate, "--key", key); err != nil {
		t.Fatal(err)
	}
	done.Wait(t, 1, 0)
	if err := in.Stop(); err != nil {
		t.Error(err)
	}
	sub.Close()
}

// A broker that is gone for a while is found again over TLS, with a certificate that was
// renewed meanwhile, and what it kept for us comes.
func TestBackOverTLS(t *testing.T) {
	a := mqtttest.NewAuthority(t)
	m := demanding(t, a, "persistence true", "persistence_location "+t.TempDir()+"/", "autosave_interval 1", "autosave_on_changes true")
	certificate, key := a.Issue("flitch")
	s, done, n := newShelf(t), newStored(), make(news, 100)
	in := start(t, s, mappings(), ingest.Options{Observe: done})
	conf := mqtt.Config{URL: url(m), ClientID: "flitch-oddwick", CAFile: a.CAFile, CertFile: certificate, KeyFile: key}
	sub, err := mqtt.Subscribe(conf, in.Topics(), in, wall{}, n.events(), quietLog())
	if err != nil {
		t.Fatal(err)
	}
	n.expect(t, "up resumed=false")
	say := func(value int) {
		t.Helper()
		if err := mqtttest.Pub(t, m.Addr, "alder/slow", fmt.Sprint(value), 1, "--cafile", a.CAFile, "--cert", certificate, "--key", key); err != nil {
			t.Fatal(err)
		}
	}
	say(3)
	done.Wait(t, 1, 0)
	m.Stop()
	n.expect(t, "down")
	renewed, itsKey := a.Issue("renewed")
	for from, to := range map[string]string{renewed: certificate, itsKey: key} {
		if err := os.Rename(from, to); err != nil {
			t.Fatal(err)
		}
	}
	m.Start()
	n.expect(t, "up resumed=true")
	say(4)
	done.Wait(t, 2, 0)
	if err := in.Stop(); err != nil {
		t.Error(err)
	}
	sub.Close()
	// A broker that ended before the acknowledgement reached it hands the message over again.
	if got := slices.Compact(s.Values(t, "alder-slow")); !slices.Equal(got, []float64{3, 4}) {
		t.Errorf("on disk: %v", got)
	}
}

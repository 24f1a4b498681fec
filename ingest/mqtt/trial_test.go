package mqtt

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"flitch/ingest/ingesttest"
	"flitch/ingest/mqtt/mqtttest"
)

// night is what five sensors that send once a minute publish in eight hours.
const night = 5 * 60 * 8

func tried(t *testing.T, m *mqtttest.Mosquitto, n int, between func()) Kept {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 3*ingesttest.Patience)
	defer cancel()
	kept, err := trial(ctx, Config{URL: m.URL(), ClientID: "flitch"}, n, ingesttest.Wall{}, between)
	if err != nil {
		t.Fatal(err)
	}
	return kept
}

// What mosquitto does with its own defaults: it acknowledges a night to the sensors and
// drops all but the first thousand; and what it kept is gone when it is started again.
func TestMosquittoAsItComesLosesANight(t *testing.T) {
	m := mqtttest.StartMosquittoWith(t, "persistence true", "persistence_location "+t.TempDir()+"/")
	kept := tried(t, m, night, func() {})
	if kept.Forgot || kept.Sent != night || kept.Kept < 1000 || kept.Kept > 1100 {
		t.Errorf("with the defaults of mosquitto: %+v", kept)
	}
	kept = tried(t, m, 500, m.Kill)
	if kept.Sent != 500 || kept.Kept == 500 {
		t.Errorf("with the defaults of mosquitto, after a power cut: %+v", kept)
	}
}

// The sample in deploy keeps all of it, also over a crash of the broker.
func TestTheSampleForMosquittoKeepsANight(t *testing.T) {
	const sample = "../../deploy/mosquitto-flitch.conf"
	text, err := os.ReadFile(sample)
	if err != nil {
		t.Fatal(err)
	}
	const listens = "listener 1883 127.0.0.1\n"
	ours := strings.Replace(string(text), listens, "", 1)
	if ours == string(text) {
		t.Fatalf("%s does not listen as this test thinks", sample)
	}
	dir := t.TempDir()
	m := mqtttest.StartMosquittoWith(t, "persistence true", "persistence_location "+dir+"/", ours)
	const some = 1200 // more than the thousand of the defaults
	newest := regexp.MustCompile(`flitch/trial/\w+1199`)
	for _, c := range []struct {
		name    string
		n       int
		between func()
	}{
		{"an outage of flitch", night, func() {}},
		{"and then one of the broker", some, m.Restart},
		{"and then a power cut", some, func() { m.KillOnceSaved(dir, newest) }},
	} {
		if kept := tried(t, m, c.n, c.between); kept != (Kept{Sent: c.n, Kept: c.n}) {
			t.Errorf("%s: %+v, want all of %d", c.name, kept, c.n)
		}
	}
}

// A broker that keeps no session is told apart from one that drops.
func TestABrokerThatForgets(t *testing.T) {
	m := mqtttest.StartMosquitto(t) // keeps nothing on disk
	if kept := tried(t, m, 10, m.Restart); !kept.Forgot || kept.Kept != 0 || kept.Sent != 10 {
		t.Errorf("%+v", kept)
	}
}

// A user that may not read there is told so, and not that the broker drops.
func TestATrialWithoutTheRight(t *testing.T) {
	rights := filepath.Join(t.TempDir(), "acl")
	if err := os.WriteFile(rights, []byte("topic readwrite larder/#\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	m := mqtttest.StartMosquitto(t, "acl_file "+rights)
	ctx, cancel := context.WithTimeout(t.Context(), ingesttest.Patience)
	defer cancel()
	kept, err := Trial(ctx, Config{URL: m.URL(), ClientID: "flitch"}, 10, ingesttest.Wall{})
	if err == nil || !strings.Contains(err.Error(), "may this user publish and read on flitch/trial/") {
		t.Errorf("%+v, %v", kept, err)
	}
}

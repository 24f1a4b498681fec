package mqtt_test

import (
	"cmp"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest"
	"flitch/ingest/decode"
	"flitch/ingest/mqtt"
	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
)

// filled is a file of deploy with some of its lines changed, each of which has to be there.
func filled(t *testing.T, file string, changes ...string) string {
	t.Helper()
	text, err := os.ReadFile("../../deploy/" + file)
	if err != nil {
		t.Fatal(err)
	}
	out := string(text)
	for i := 0; i < len(changes); i += 2 {
		if !strings.Contains(out, "\n"+changes[i]+"\n") {
			t.Fatalf("%s has no line %q", file, changes[i])
		}
		out = strings.Replace(out, "\n"+changes[i]+"\n", "\n"+changes[i+1]+"\n", 1)
	}
	return out
}

// keeping is a mosquitto as deploy/mosquitto-flitch.conf has it, with more lines behind.
func keeping(t *testing.T, more ...string) *mqtttest.Mosquitto {
	t.Helper()
	lines := append([]string{"persistence true", "persistence_location " + t.TempDir() + "/",
		filled(t, "mosquitto-flitch.conf", "listener 1883 127.0.0.1", "", "allow_anonymous true", "")}, more...)
	return mqtttest.StartMosquittoWith(t, lines...)
}

// bridged is the mosquitto of a site that hands on to the one in the middle.
func bridged(t *testing.T, name, authority string, middle *mqtttest.Mosquitto) *mqtttest.Mosquitto {
	t.Helper()
	_, port, _ := net.SplitHostPort(middle.Addr)
	return keeping(t, filled(t, "mosquitto-bridge.conf",
		"connection larder-up", "connection "+name+"-up", "remote_clientid larder-bridge", "remote_clientid "+name+"-bridge", "local_clientid larder-bridge", "local_clientid "+name+"-bridge",
		"address office.example:8883", "address localhost:"+port, "bridge_cafile /etc/ssl/certs/ca-certificates.crt", "bridge_cafile "+authority,
		"remote_username larder", "remote_username "+name, "remote_password CHANGE-ME", "remote_password of-"+name,
		`topic larder/# out 1 "" sites/larder/`, `topic larder/# out 1 "" sites/`+name+`/`, "restart_timeout 5 300", "restart_timeout 1 2"))
}

// Two sites hand on to a broker in the middle, from which flitch reads. The middle goes away, both
// go on, and one of them is restarted meanwhile; then everything is there, each under its site.
func TestTheSampleOfABridgeLosesNothing(t *testing.T) {
	a := mqtttest.NewAuthority(t)
	certificate, key := a.Issue("broker")
	dir := t.TempDir()
	words, rights := filepath.Join(dir, "words"), filepath.Join(dir, "acl")
	acl := "topic read sites/#\n"
	for i, name := range []string{"larder", "attic", "flitch"} {
		args := []string{"-b", words, name, "of-" + name}
		if i == 0 {
			args = append([]string{"-c"}, args...)
		}
		if out, err := exec.Command("mosquitto_passwd", args...).CombinedOutput(); err != nil {
			t.Fatalf("mosquitto_passwd: %v %s", err, out)
		}
		acl += "user " + name + "\ntopic read sites/#\ntopic write sites/" + name + "/#\n"
	}
	if err := os.WriteFile(rights, []byte(acl), 0o600); err != nil {
		t.Fatal(err)
	}
	middle := keeping(t, "cafile "+a.CAFile, "certfile "+certificate, "keyfile "+key, "password_file "+words, "acl_file "+rights)
	sites := map[string]*mqtttest.Mosquitto{"larder": bridged(t, "larder", a.CAFile, middle), "attic": bridged(t, "attic", a.CAFile, middle)}

	db, counts := newShelf(t), newStored()
	var maps []ingest.Mapping
	for name := range sites {
		maps = append(maps, ingest.Mapping{Topic: "sites/" + name + "/larder/alder/bottle", Probe: process.PlacedProbe{Probe: name, Placement: process.Product},
			Spec: decode.Spec{Value: "/t", Time: "/at", TimeFormat: "unix-ms"}})
	}
	in := start(t, db, maps, ingest.Options{Observe: counts})
	up, once := make(chan struct{}), sync.Once{}
	sub, err := mqtt.Subscribe(mqtt.Config{URL: url(middle), ClientID: "flitch-middle", CAFile: a.CAFile, Username: "flitch", Password: "of-flitch"}, in.Topics(), in, wall{}, mqtt.Events{Up: func(bool) { once.Do(func() { close(up) }) }}, quietLog())
	if err != nil {
		t.Fatal(err)
	}
	defer sub.Close()
	select {
	case <-up: // what was published before it ever came is nobody's
	case <-time.After(patience):
		t.Fatal("flitch does not get in")
	}
	first := time.Now().Add(-time.Hour)
	say := func(name string, from, to int) {
		out, err := mqtt.NewPublisher(t.Context(), mqtt.Config{URL: sites[name].URL(), ClientID: "bottle"})
		if err != nil {
			t.Fatal(err)
		}
		defer out.Close()
		for i := from; i < to; i++ {
			text := fmt.Sprintf(`{"t": %d, "at": %d}`, i, first.Add(time.Duration(i)*time.Second).UnixMilli())
			if err := out.PublishWait(t.Context(), "larder/alder/bottle", []byte(text), 1); err != nil {
				t.Fatal(err)
			}
		}
	}
	const before, away = 50, 1300 // more than the thousand that mosquitto keeps by default
	for name := range sites {
		say(name, 0, before)
	}
	counts.Wait(t, 2*before, 0)
	middle.Stop()
	for name := range sites {
		say(name, before, before+away/2)
	}
	sites["larder"].Restart()
	for name := range sites {
		say(name, before+away/2, before+away)
	}
	middle.Start()
	counts.Wait(t, 2*(before+away), 0)
	disordered := 0
	for name := range sites {
		got := db.Series(t, name)
		for _, r := range got {
			if !r.Measured.Equal(r.Device) { // behind one that was measured later: as of its arrival
				disordered++
			}
		}
		slices.SortFunc(got, func(a, b process.Reading) int { return cmp.Compare(a.Value, b.Value) })
		for i, r := range got {
			if int(r.Value) != i {
				t.Fatalf("%s: reading %d is %v", name, i, r.Value)
			}
		}
		if len(got) != before+away {
			t.Errorf("%s: %d readings, want %d", name, len(got), before+away)
		}
	}
	t.Logf("2 faults: the broker in the middle away, one of a site restarted meanwhile; %d readings of each of 2 sites, none lost, %d handed on out of their order", before+away, disordered)
	if disordered > 2*away/10 {
		t.Errorf("%d of %d came out of order", disordered, 2*away)
	}
}

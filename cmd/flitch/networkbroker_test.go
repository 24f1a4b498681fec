package main

import (
	"fmt"
	"net"
	"regexp"
	"strings"
	"testing"
	"time"

	"flitch/alerts"
	"flitch/ingest/mqtt/mqtttest"
)

// longPatience is for what takes its time by nature: a ping that is not answered, and attempts
// to connect that get longer. A busy machine adds to it.
const longPatience = 4 * time.Minute

// dialTo connects to an address of this machine.
func dialTo(address string) func() (net.Conn, error) {
	return func() (net.Conn, error) { return net.DialTimeout("tcp", address, firstQuiet) }
}

// subscribed sends a first reading of each courier until one is stored: what is published before
// the daemon ever subscribed is nobody's.
func subscribed(t *testing.T, m *moved, all []*courier) {
	t.Helper()
	for n := 1; !strings.Contains(m.body("/metrics"), "flitch_intake_stored_total"+fmt.Sprintf(" %d", len(all))); n++ {
		<-carryAll(t, all, 1)
		for _, c := range all {
			if n > 1000 {
				t.Fatal("the daemon does not subscribe")
			}
			c.mu.Lock()
			c.acked = map[int]bool{} // again
			c.mu.Unlock()
		}
		<-time.After(20 * time.Millisecond)
	}
}

// brokerAlarm is the line of the catalogue that a broker that does not answer rings by.
func brokerAlarm(t *testing.T) alerts.Entry {
	t.Helper()
	for _, e := range alerts.Catalogue(alerts.Electric) {
		if e.ID == "B7" {
			return e
		}
	}
	t.Fatal("the catalogue has no B7")
	return alerts.Entry{}
}

// has is whether a message with the text has come.
func (p *deskPhone) has(text string) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Contains(strings.Join(p.heard, "\n"), text)
}

// The outside broker stops in the middle of its work, and the system goes on for it: connections
// stay open, new ones are taken, and nothing is answered. flitch notices by itself and rings, with the words
// of its catalogue; when the broker goes on, it finds its way back, and everything that a sensor
// was told is taken is stored once.
func TestABrokerThatIsFrozen(t *testing.T) {
	t.Parallel()
	const devices, each = 3, 120
	broker := mqtttest.StartMosquitto(t)
	phone := newDeskPhone(t, nil)
	l := external(t, "mqtt://"+broker.Addr)
	l.amend("\n[[probe]]", "\n[[probe]]", probesNamed(devices)+fmt.Sprintf("\n[[channel]]\nname = \"desk\"\nkind = \"http\"\nlevel = \"tell\"\nurl = %q\n", phone.server.URL))
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	all := couriers(devices, dialTo(broker.Addr))
	subscribed(t, m, all)
	<-carryAll(t, all, each/2)
	done := carryAll(t, all, each)
	broker.Freeze()
	froze := time.Now()
	waitFor(t, longPatience, "flitch says that the broker is away", func() bool { return strings.Contains(m.body("/healthz"), "broker") })
	noticed := time.Since(froze)
	entry := brokerAlarm(t)
	m.passUntilHome(12, entry.Title)
	for _, words := range []string{"RING " + entry.Title + ": broker", "No answer for ", ", limit 5 min, since ", entry.Action} {
		waitFor(t, time.Minute, "the phone hears: "+words, func() bool { return phone.has(words) })
	}
	broker.Thaw()
	thawed := time.Now()
	waitFor(t, longPatience, "flitch says that the broker is back", func() bool {
		body := m.body("/healthz")
		return body != "" && !strings.Contains(body, "broker")
	})
	back := time.Since(thawed)
	<-done
	waitFor(t, longPatience, "all is stored", func() bool {
		return strings.Contains(m.body("/metrics"), fmt.Sprintf("flitch_intake_stored_total %d\n", devices*each))
	})
	m.passUntil(6, "the phone hears that it is over", func() bool { return phone.has("Over: " + entry.Title + ": broker") })
	l.kill()
	settle(t, l, all, owed(all))
	acked, again, gaveUp := tally(all)
	if acked != devices*each || gaveUp == 0 {
		t.Errorf("%d of %d acknowledged, %d connections given up: that proves nothing", acked, devices*each, gaveUp)
	}
	t.Logf("1 faults, the broker frozen for %v; noticed after %v, back %v after it went on; %d connections of sensors given up, %d readings sent again, %d acknowledged and stored once", thawed.Sub(froze).Round(time.Second), noticed.Round(time.Second), back.Round(time.Second), gaveUp, again, acked)
}

// The outside broker is killed in the middle of its work, and started again with what its own file had.
// What is promised: what flitch acknowledged is stored once, and what the broker still had is
// acknowledged when it hands it over. What it had acknowledged to a sensor and never handed over is
// lost by the broker, and only counted here: the part of it that it had not saved, and now and
// then one that stays in its file (mosquitto 2.0.11 forgets one of thousands there when it starts).
func TestABrokerThatIsKilled(t *testing.T) {
	t.Parallel()
	const devices, step = 3, 60
	kills := sizeOf(t, "FLITCH_BROKER_KILLS", 3)
	dir := t.TempDir()
	sample := regexp.MustCompile(`(?m)^(listener|allow_anonymous) .*$`).ReplaceAllString(string(must(t, "../../deploy/mosquitto-flitch.conf")), "")
	broker := mqtttest.StartMosquittoWith(t, "persistence true", "persistence_location "+dir+"/", sample)
	line := newTap(t, broker.Addr)
	l := external(t, "mqtt://"+line.Addr)
	l.amend("\n[[probe]]", "\n[[probe]]", probesNamed(devices))
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	all := couriers(devices, dialTo(broker.Addr))
	subscribed(t, m, all)
	had := map[string]bool{}
	for kill := range kills {
		from := kill * 2 * step
		<-carryAll(t, all, from+step)
		line.hold(true) // from here on the broker has to keep what comes
		<-carryAll(t, all, from+step+step/2)
		if kill%2 == 0 { // else it may have saved the half, or nothing
			last := all[0].name(from + step + step/2 - 1)
			waitFor(t, time.Minute, "the broker saves "+last, func() bool { return readingsIn(broker.Saved(dir))[last] })
		}
		done := carryAll(t, all, from+2*step) // under way when it is killed
		for name := range readingsIn(broker.Die(dir)) {
			had[name] = true
		}
		broker.Start()
		line.hold(false)
		<-done
	}
	waitFor(t, longPatience, "what the broker hands over is acknowledged, up to the newest", func() bool {
		for _, c := range all {
			if !line.has(c.name(kills*2*step - 1)) {
				return false
			}
		}
		return line.open() == 0
	})
	l.kill()
	kept, stuck := readingsIn(broker.Die(dir)), 0
	for name := range had {
		if line.has(name) {
			continue
		}
		if stuck++; !kept[name] {
			t.Errorf("the broker had %s; it did not come, and is not there any more", name)
		}
	}
	var promised []claim
	for _, o := range owed(all) {
		if line.has(o.name) {
			promised = append(promised, o)
		}
	}
	settle(t, l, all, promised)
	acked, _, _ := tally(all)
	lost, again := acked-len(promised), line.again()
	if len(had) < step || again == 0 || len(promised) < kills*devices*step || stuck > kills {
		t.Errorf("%d kept by the broker, %d handed over again, %d promised, %d never handed over: that proves nothing", len(had), again, len(promised), stuck)
	}
	t.Logf("%d kills of the broker; it had %d readings in its file, and handed %d over more than once; %d acknowledged by flitch, all stored once; %d that it had acknowledged it lost itself, %d of them in its file", kills, len(had), again, len(promised), lost, stuck)
	t.Logf("soak broker_injected %d kills >=1 -", kills)
	t.Logf("soak broker_readings %d readings - -", len(promised))
	t.Logf("soak broker_lost_itself %d readings - -", lost)
}

// readingsIn are the readings of couriers that a file of mosquitto's has, by their names.
func readingsIn(file []byte) map[string]bool {
	names := map[string]bool{}
	for _, found := range readingName.FindAllSubmatch(file, -1) {
		names[string(found[1])] = true
	}
	return names
}

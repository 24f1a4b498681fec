package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/cmd/flitch/internal/linktest"
	"flitch/ingest/mqtt/mqtttest"
)

// badWifi is a house with thick walls: of six packets one is lost, and others come twice, late, or
// out of their order.
var badWifi = linktest.Chances{Lose: 0.17, Double: 0.1, Late: 0.2, Delay: 2 * time.Millisecond, LateBy: 20 * time.Millisecond}

// behind lets a larder listen at the near end of a link, for sensors and for the page.
func (l *larder) behind(link *linktest.Link, probes int) {
	l.t.Helper()
	l.amend("listen = \"127.0.0.1:0\"           # only", "listen = \""+link.Near+":0\"\nanonymous = true # only", probesNamed(probes))
	l.amend("[broker]\nmode = \"embedded\"", "[broker]\nmode = \"embedded\"\nanonymous = true", "")
	l.amend("listen = \"127.0.0.1:0\"   # for sensors", "listen = \""+link.Near+":0\"   # for sensors", "")
}

// farDial connects to an address from the far end of a link.
func farDial(link *linktest.Link, address string) func() (net.Conn, error) {
	return func() (net.Conn, error) { return link.Dial("tcp4", address, net.Dialer{Timeout: 2 * firstQuiet}) }
}

// farPage asks for the page from the far end; what it returns is what came.
func farPage(link *linktest.Link, page string, patience time.Duration) (string, error) {
	client := http.Client{Timeout: patience, Transport: &http.Transport{
		DisableKeepAlives: true,
		DialContext: func(_ context.Context, network, address string) (net.Conn, error) {
			return link.Dial(network, address, net.Dialer{Timeout: patience})
		},
	}}
	answer, err := client.Get(page + "/home")
	if err != nil {
		return "", err
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if answer.StatusCode != http.StatusOK {
		return "", fmt.Errorf("answered %s", answer.Status)
	}
	return string(body), err
}

// whole fails the test if the link did not do all that it is there for.
func whole(t *testing.T, c linktest.Counts) {
	t.Helper()
	if c.Lost == 0 || c.Doubled == 0 || c.Reordered == 0 || c.Cut == 0 {
		t.Errorf("the link did not do everything: %v", c)
	}
}

// Sensors, and somebody with the page open, are at the far end of a link that loses, doubles,
// delays and mixes up what goes over it, and then loses everything for so long that each of them gives its
// connection up, of which flitch is told nothing. What was acknowledged is stored once.
func TestReadingsOverABadLink(t *testing.T) {
	t.Parallel()
	const devices = 4
	each := sizeOf(t, "FLITCH_LINK_READINGS", 80)
	link := linktest.New(t, 3, badWifi)
	l := installed(t, t.TempDir())
	l.behind(link, devices)
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	all := couriers(devices, farDial(link, m.broker))

	answered := 0
	ask := func() {
		body, err := farPage(link, m.page, 2*time.Minute)
		if err != nil || !strings.Contains(body, "Open alarms") {
			t.Fatalf("the page over a bad link: %v %.200q", err, body)
		}
		answered++
	}
	for done := carryAll(t, all, each/2); ; {
		ask()
		if isOver(done) {
			break
		}
	}
	_, _, before := tally(all)
	over := make(chan struct{})
	cut := sync.OnceFunc(func() { link.Cut(); close(over) })
	for _, c := range all {
		c.thenAt, c.then = each/2+5, cut // by the first who comes so far, with more to carry
	}
	done := carryAll(t, all, each)
	<-over
	for _, c := range all { // each gives a connection up that flitch still has, unless it was through
		had := c.givenUp()
		waitFor(t, 3*time.Minute, c.probe+" notices that nothing goes through", func() bool {
			return c.givenUp() > had || c.first() == each
		})
	}
	if _, err := farPage(link, m.page, 200*time.Millisecond); err == nil {
		t.Error("the page answers through a link that is cut")
	}
	link.Mend()
	<-done
	ask()
	acked, again, gaveUp := tally(all)
	l.kill()
	settle(t, l, all, owed(all))
	c := link.Counts()
	whole(t, c)
	if gaveUp == before || again == 0 || acked != devices*each {
		t.Errorf("%d connections given up, %d readings sent again, %d acknowledged of %d: that proves nothing", gaveUp, again, acked, devices*each)
	}
	t.Logf("%d faults: %v; %d connections given up, %d readings sent again, %d acknowledged and stored once; the page answered %d times", c.Faults(), c, gaveUp, again, acked, answered)
	t.Logf("soak link_injected %d faults >=10 -", c.Faults())
	t.Logf("soak link_lost %.3f of_all - -", float64(c.Lost)/float64(c.Came-c.Cut))
	t.Logf("soak link_readings %d readings - -", acked)
}

// sizeOf is a number from the environment, or another one.
func sizeOf(t *testing.T, name string, otherwise int) int {
	t.Helper()
	text := os.Getenv(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%s: a number from 1 on is wanted", name, text)
	}
	return n
}

func isOver(done <-chan struct{}) bool {
	select {
	case <-done:
		return true
	default:
		return false
	}
}

// The control: a device that asks for no acknowledgement, and thinks that what it has sent has
// come. The same link loses of that what was under way when it was cut, and the same check says which.
func TestWhatIsNotAcknowledgedIsLostOnABadLink(t *testing.T) {
	t.Parallel()
	const before, during = 5, 20
	link := linktest.New(t, 4, linktest.Chances{})
	l := installed(t, t.TempDir())
	l.behind(link, 1)
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	c := couriers(1, farDial(link, m.broker))[0]
	conn, err := c.dial()
	if err != nil {
		t.Fatal(err)
	}
	r, err := mqtttest.Over(conn, "careless")
	if err != nil {
		t.Fatal(err)
	}
	send := func(i int) {
		payload := fmt.Appendf(nil, `{"t":%q,"v":3}`, measured(i, c.since))
		if err := r.Send(mqtttest.Packet("shop/p0", payload, 0, 0)); err != nil {
			t.Fatal(err)
		}
		c.acked[i], c.sent = true, i+1 // as it believes
	}
	for i := range before {
		send(i)
	}
	m.until("/metrics", fmt.Sprintf("flitch_intake_stored_total %d", before))
	link.Cut()
	for i := range during {
		send(before + i)
	}
	waitFor(t, time.Minute, "something is lost", func() bool { return link.Counts().Cut > 0 })
	if err := conn.(*net.TCPConn).SetLinger(0); err != nil { // switched off: what it had under way is gone
		t.Fatal(err)
	}
	r.Close()
	if err := hand(m.broker, "witness", "shop/p0", []string{fmt.Sprintf(`{"t":%q,"v":3}`, measured(before+during, c.since))}); err != nil { // from this end: the link stays cut
		t.Fatal(err)
	}
	c.sent++
	l.kill()
	faults := against([]*courier{c}, owed([]*courier{c}), l.rows())
	if len(faults) != during {
		t.Errorf("%d readings never came, and the check finds %d: %v", during, len(faults), faults)
	}
	t.Logf("%d faults: %d packets lost on a link that was cut, %d readings lost with them, all found", link.Counts().Cut, link.Counts().Cut, len(faults))
}

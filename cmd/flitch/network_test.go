package main

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"flitch/ingest/mqtt/mqtttest"
	"flitch/process"
	"flitch/store"

	"golang.org/x/sys/unix"
)

// measured is when reading i of these tests was, as sensors with clocks say.
func measured(i int, since time.Time) string {
	return since.Add(time.Duration(i) * 10 * time.Millisecond).UTC().Format(time.RFC3339Nano)
}

// amend changes the configuration of a larder.
func (l *larder) amend(old, now, more string) {
	l.t.Helper()
	path := filepath.Join(l.dir, "flitch.toml")
	text, err := os.ReadFile(path)
	if err != nil {
		l.t.Fatal(err)
	}
	if !strings.Contains(string(text), old) {
		l.t.Fatalf("the configuration has no %q", old)
	}
	if err := os.WriteFile(path, []byte(strings.Replace(string(text), old, now, 1)+more), 0o644); err != nil {
		l.t.Fatal(err)
	}
}

// probesNamed are n probes of the fridge, each with a topic of its own.
func probesNamed(n int) string {
	var out strings.Builder
	for i := range n {
		fmt.Fprintf(&out, "\n[[probe]]\nname = \"p%d\"\nplace = \"alder\"\nmeasures = \"air\"\ntopic = \"shop/p%d\"\nvalue = \"/v\"\ntime = \"/t\"\ntime_format = \"rfc3339\"\nunit = \"C\"\ninterval = \"10s\"\n", i, i)
	}
	return out.String()
}

// stored counts the readings on disk by probe.
func (l *larder) stored() map[string]int {
	l.t.Helper()
	counts := map[string]int{}
	l.eachReading(func(r process.Reading) { counts[r.Probe]++ })
	return counts
}

// eachReading calls fn for each reading on disk, while the program may be running.
func (l *larder) eachReading(fn func(process.Reading)) {
	l.t.Helper()
	db, err := store.OpenBeside(filepath.Join(l.dir, "flitch.db"))
	if err != nil {
		l.t.Fatal(err)
	}
	defer db.Close()
	for after := int64(0); ; {
		inputs, err := db.NextInputs(after, 5000)
		if err != nil {
			l.t.Fatal(err)
		}
		if len(inputs) == 0 {
			return
		}
		for _, in := range inputs {
			if in.Kind == process.InputReading {
				fn(in.Reading)
			}
			after = in.Seq
		}
	}
}

// peak is the most memory the daemon ever had, MiB.
func (l *larder) peak() int {
	l.t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", l.daemon.Process.Pid))
	if err != nil {
		l.t.Fatal(err)
	}
	for _, line := range strings.Split(string(text), "\n") {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kb, err := strconv.Atoi(strings.Fields(rest)[0])
			if err != nil {
				l.t.Fatal(err)
			}
			return kb >> 10
		}
	}
	l.t.Fatal("no VmHWM")
	return 0
}

// hand hands over what a device kept, and returns how many were acknowledged. A device that
// is cut off begins again at the first that was not.
func hand(addr, id, topic string, payloads []string) error {
	for from := 0; from < len(payloads); {
		r, err := mqtttest.Dial(addr, id)
		if err != nil {
			return err
		}
		packets := make([]byte, 0, 1<<13)
		for i, p := range payloads[from:] {
			packets = append(packets, mqtttest.Packet(topic, []byte(p), 1, mqtttest.PacketID(from+i))...)
		}
		err = r.Send(packets)
		for err == nil && from < len(payloads) {
			if _, err = r.Puback(30 * time.Second); err == nil {
				from++
			}
		}
		r.Close()
		if err != nil {
			return fmt.Errorf("%s after %d: %w", id, from, err)
		}
	}
	return nil
}

// The daemon is killed with 200 sensors on it, each of which has kept a hundred readings
// when it is back; all of them come at once. Every acknowledgement is a row, once, and the
// page answers meanwhile.
func TestTwoHundredSensorsComeBackAtOnce(t *testing.T) {
	const sensors, each = 200, 100
	l := installed(t, t.TempDir())
	l.amend("\n[[probe]]", "\n[[probe]]", probesNamed(sensors))
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	m.raw.Close()
	var lines [sensors]*mqtttest.Raw
	for i := range lines {
		r, err := mqtttest.Dial(m.broker, fmt.Sprintf("s%d", i))
		if err != nil {
			t.Fatalf("sensor %d: %v", i, err)
		}
		defer r.Close()
		lines[i] = r
	}
	l.kill()
	kept := time.Now().Add(-30 * time.Second)
	m = l.startAt(time.Now().UTC().Truncate(time.Second))
	began := time.Now()
	var group sync.WaitGroup
	failed := make(chan error, sensors)
	for i := range sensors {
		group.Go(func() {
			payloads := make([]string, each)
			for j := range payloads {
				payloads[j] = fmt.Sprintf(`{"t":%q,"v":3.%d}`, measured(j, kept), j%10)
			}
			if err := hand(m.broker, fmt.Sprintf("s%d", i), fmt.Sprintf("shop/p%d", i), payloads); err != nil {
				failed <- err
			}
		})
	}
	over := make(chan struct{})
	go func() { group.Wait(); close(over) }()
	slowest, asked := watchPage(t, m.page, over)
	took := time.Since(began)
	close(failed)
	for err := range failed {
		t.Error(err)
	}
	peak := l.peak()
	l.kill()
	counts := l.stored()
	for i := range sensors {
		if n := counts[fmt.Sprintf("p%d", i)]; n != each {
			t.Errorf("of sensor %d %d readings are stored, %d were acknowledged", i, n, each)
		}
	}
	t.Logf("%d connections cut; %d readings of %d sensors in %v; the page was asked %d times, slowest %v; %d MiB at most", sensors, sensors*each, sensors, took, asked, slowest, peak)
	if peak > stormMost || asked == 0 || slowest > 30*time.Second {
		t.Errorf("more than %d MiB, or a page that does not answer", stormMost)
	}
}

// watchPage asks for the page until over closes.
func watchPage(t *testing.T, page string, over <-chan struct{}) (slowest time.Duration, asked int) {
	t.Helper()
	for {
		select {
		case <-over:
			return slowest, asked
		default:
		}
		began := time.Now()
		answer, err := http.Get(page + "/home")
		if err != nil {
			t.Error(err)
			return slowest, asked
		}
		_, _ = io.Copy(io.Discard, answer.Body)
		answer.Body.Close()
		slowest, asked = max(slowest, time.Since(began)), asked+1
	}
}

// One sensor sends half a packet and falls silent, one connects and says nothing, one does
// not read its acknowledgements: the others are served.
func TestStalledSensorsHoldUpNobody(t *testing.T) {
	l := installed(t, t.TempDir())
	l.amend("\n[[probe]]", "\n[[probe]]", probesNamed(2))
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	faults := 0
	half, err := mqtttest.Dial(m.broker, "half")
	if err != nil {
		t.Fatal(err)
	}
	defer half.Close()
	packet := mqtttest.Packet("shop/p0", []byte(`{"t":"2031-05-05T06:00:00Z","v":3}`), 1, 1)
	if err := half.Send(packet[:len(packet)/2]); err != nil {
		t.Fatal(err)
	}
	faults++
	for range 20 {
		mute, err := net.Dial("tcp", m.broker)
		if err != nil {
			t.Fatal(err)
		}
		defer mute.Close()
		faults++
	}
	deaf, err := mqtttest.Dial(m.broker, "deaf")
	if err != nil {
		t.Fatal(err)
	}
	defer deaf.Close()
	kept := time.Now().Add(-30 * time.Second)
	for i := range 1000 {
		if err := deaf.Send(mqtttest.Packet("shop/p0", fmt.Appendf(nil, `{"t":%q,"v":3}`, measured(i, kept)), 1, mqtttest.PacketID(i))); err != nil {
			t.Fatal(err)
		}
	}
	faults++
	began := time.Now()
	if err := hand(m.broker, "good", "shop/p1", []string{fmt.Sprintf(`{"t":%q,"v":3}`, measured(0, kept))}); err != nil {
		t.Fatal(err)
	}
	if took := time.Since(began); took > 30*time.Second {
		t.Errorf("a sensor beside stalled ones waited %v", took)
	}
	m.until("/home", "Open alarms")
	t.Logf("%d stalled connections", faults)
}

// inside runs do on a thread of its own in a network namespace.
func inside(t *testing.T, space string, do func() error) {
	t.Helper()
	done := make(chan error, 1)
	go func() {
		runtime.LockOSThread() // and never given back: the thread ends with the goroutine
		f, err := os.Open("/run/netns/" + space)
		if err == nil {
			err = unix.Setns(int(f.Fd()), unix.CLONE_NEWNET)
			err = errors.Join(err, f.Close())
		}
		if err == nil {
			err = do()
		}
		done <- err
	}()
	if err := <-done; err != nil {
		t.Fatalf("in the network namespace %s (this test needs root and iproute2): %v", space, err)
	}
}

// Two devices call themselves the same and send each other away. Nothing of what was
// acknowledged is lost, and a person is told of it.
func TestTwoDevicesOfOneName(t *testing.T) {
	l := installed(t, t.TempDir())
	l.amend("\n[[probe]]", "\n[[probe]]", probesNamed(2))
	m := l.startAt(time.Now().UTC().Truncate(time.Second))
	kept := time.Now().Add(-30 * time.Second)
	const rounds = 20
	for i := range rounds {
		for device := range 2 {
			payload := fmt.Sprintf(`{"t":%q,"v":3}`, measured(i, kept))
			if err := hand(m.broker, "twin", fmt.Sprintf("shop/p%d", device), []string{payload}); err != nil {
				t.Fatal(err)
			}
			left, err := mqtttest.Dial(m.broker, "twin") // and it stays until the other takes its place
			if err != nil {
				t.Fatal(err)
			}
			defer left.Close()
		}
	}
	m.until("/healthz", "more than one connects as")
	m.passUntilHome(14, "Two of one name")
	if out := m.flitch("alarms"); strings.Count(out, "B7d") != 1 {
		t.Errorf("told more than once:\n%s", out)
	}
	m.passUntilHome(60, "No alarm is open")
	l.kill()
	if counts := l.stored(); counts["p0"] != rounds || counts["p1"] != rounds {
		t.Errorf("stored %v, acknowledged %d of each", counts, rounds)
	}
	t.Logf("%d connections taken over", 2*rounds-1)
}

// A cook goes on while the wifi is away for ten minutes. A device that keeps its readings
// hands them over, and nothing is missing; without, it is a gap, and rings.
func TestAGapInTheWifi(t *testing.T) {
	for _, keeps := range []bool{true, false} {
		t.Run(fmt.Sprintf("the device keeps %v", keeps), func(t *testing.T) {
			space := newSpace(t)
			l := installed(t, t.TempDir())
			l.amend("[broker]\nmode = \"embedded\"", "[broker]\nmode = \"embedded\"\nanonymous = true", probesNamed(1))
			l.amend("listen = \"127.0.0.1:0\"   # for sensors", "listen = \""+space.house+":0\"   # for sensors", "")
			truth := time.Date(2031, 5, 5, 6, 0, 0, 0, time.UTC)
			m := l.startAt(truth)
			m.flitch("batch", "new", "--by", "T.V.", "--id", "PS-02", "--plan", "belly-dry-cured", "--piece", "A:2268g:38mm", "--fridge", "alder", "--smoker", "old-kettle")
			var device *mqtttest.Raw
			connect := func() {
				inside(t, space.name, func() (err error) { device, err = mqtttest.Dial(m.broker, "wifi"); return err })
			}
			connect()
			sent, acked := 0, 0
			minute := func(send bool) (payload string) {
				m.move("pass 1m")
				truth = truth.Add(time.Minute)
				payload = fmt.Sprintf(`{"t":%q,"v":3}`, truth.Format(time.RFC3339))
				if !send {
					return payload
				}
				sent++
				if err := device.Send(mqtttest.Packet("shop/p0", []byte(payload), 1, mqtttest.PacketID(sent))); err != nil {
					t.Fatal(err)
				}
				if _, err := device.Puback(time.Minute); err != nil {
					t.Fatal(err)
				}
				acked++
				return payload
			}
			for range 10 {
				minute(true)
			}
			space.link("down")
			var kept []string
			for range 40 {
				kept = append(kept, minute(false))
			}
			device.Conn.Close() // it has given up on a connection that nobody ended
			m.until("/home", "Fridge not heard")
			space.link("up")
			if keeps {
				inside(t, space.name, func() error { return hand(m.broker, "wifi", "shop/p0", kept) })
				acked += len(kept)
			}
			connect()
			for range 5 {
				minute(true)
			}
			device.Close()
			l.kill()
			if n := l.stored()["p0"]; n != acked {
				t.Errorf("%d readings are stored, %d were acknowledged", n, acked)
			}
			t.Logf("1 gap of 40 min, %d readings", acked)
		})
	}
}

// A space is a network of its own behind a link that the test cuts.
type space struct {
	t           *testing.T
	name, house string
}

func newSpace(t *testing.T) *space {
	t.Helper()
	n := os.Getpid()%200 + 20
	s := &space{t: t, name: fmt.Sprintf("flitch%d", os.Getpid()), house: fmt.Sprintf("10.213.%d.1", n)}
	t.Cleanup(func() {
		_ = exec.Command("ip", "link", "del", s.near()).Run()
		_ = exec.Command("ip", "netns", "del", s.name).Run()
	})
	for _, line := range []string{
		"netns add " + s.name,
		"link add " + s.near() + " type veth peer name eth0 netns " + s.name,
		"addr add " + s.house + "/24 dev " + s.near(),
		"link set " + s.near() + " up",
		"-n " + s.name + " addr add " + fmt.Sprintf("10.213.%d.2/24", n) + " dev eth0",
		"-n " + s.name + " link set eth0 up",
	} {
		s.ip(line)
	}
	return s
}

func (s *space) near() string { return fmt.Sprintf("fl%d", os.Getpid()) }

func (s *space) link(state string) { s.t.Helper(); s.ip("link set " + s.near() + " " + state) }

func (s *space) ip(line string) {
	s.t.Helper()
	if out, err := exec.Command("ip", strings.Fields(line)...).CombinedOutput(); err != nil {
		s.t.Fatalf("ip %s (this test needs root and iproute2): %v: %s", line, err, out)
	}
}

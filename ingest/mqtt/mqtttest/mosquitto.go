package mqtttest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// patience is how long a real peer may take for anything.
const patience = 60 * time.Second

// A Mosquitto is a running mosquitto broker on a port of its own.
type Mosquitto struct {
	Addr string // host:port

	t     testing.TB
	conf  string
	cmd   *exec.Cmd
	ended chan struct{} // closed when cmd has
	log   said
}

// said is what a program says while it runs.
type said struct {
	mu   sync.Mutex
	text bytes.Buffer
}

// Write implements io.Writer.
func (s *said) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *said) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// StartMosquitto runs mosquitto until the test ends, with an unlimited queue and
// further lines of configuration. A machine without mosquitto fails the test.
func StartMosquitto(t testing.TB, lines ...string) *Mosquitto {
	t.Helper()
	return StartMosquittoWith(t, append([]string{"max_inflight_messages 1000", "max_queued_messages 0", "persistence false"}, lines...)...)
}

// StartMosquittoWith runs mosquitto with these lines of configuration, a port and as
// little else as can be. A line may hold a whole file.
func StartMosquittoWith(t testing.TB, lines ...string) *Mosquitto {
	t.Helper()
	addr := FreeAddress(t)
	_, port, _ := net.SplitHostPort(addr)
	dir := t.TempDir()
	all := append([]string{
		"listener " + port + " 127.0.0.1",
		"allow_anonymous true",
		"user root", // do not change user: the directory is the test's
	}, lines...)
	m := &Mosquitto{Addr: addr, t: t, conf: filepath.Join(dir, "mosquitto.conf")}
	if err := os.WriteFile(m.conf, []byte(strings.Join(all, "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	m.Start()
	t.Cleanup(m.Stop)
	return m
}

// URL is the address as a client wants it.
func (m *Mosquitto) URL() string { return "tcp://" + m.Addr }

// Start runs the broker, again after Stop, and returns when it takes connections, by its own
// word: on its port there may be another, of a test beside this one.
func (m *Mosquitto) Start() {
	m.t.Helper()
	before := strings.Count(m.log.String(), runs)
	m.cmd = exec.Command(tool(m.t, "mosquitto"), "-c", m.conf)
	m.cmd.Stderr, m.cmd.Stdout = &m.log, &m.log
	if err := m.cmd.Start(); err != nil {
		m.t.Fatalf("start mosquitto: %v", err)
	}
	m.ended = make(chan struct{})
	go func(cmd *exec.Cmd, ended chan struct{}) { _ = cmd.Wait(); close(ended) }(m.cmd, m.ended)
	deadline := time.Now().Add(patience)
	for {
		c, err := net.Dial("tcp", m.Addr)
		if err == nil {
			c.Close()
		}
		select {
		case <-m.ended:
			m.t.Fatalf("mosquitto on %s ended:\n%s", m.Addr, m.log.String())
		default:
		}
		if err == nil && strings.Count(m.log.String(), runs) > before {
			return
		}
		if time.Now().After(deadline) {
			m.t.Fatalf("mosquitto does not listen on %s: %v", m.Addr, err)
		}
		time.Sleep(5 * time.Millisecond) // a real process: nothing to wait on but its port
	}
}

// runs is what mosquitto says once it has its port.
const runs = " running\n"

// Stop ends the broker.
func (m *Mosquitto) Stop() {
	if m.cmd == nil {
		return
	}
	_ = m.cmd.Process.Signal(os.Interrupt)
	<-m.ended
	m.cmd = nil
}

// Restart stops the broker as a service does, and starts it again.
func (m *Mosquitto) Restart() {
	m.Stop()
	m.Start()
}

// Kill ends the broker as a power cut does, and starts it again.
func (m *Mosquitto) Kill() {
	m.t.Helper()
	if err := m.cmd.Process.Kill(); err != nil {
		m.t.Fatal(err)
	}
	<-m.ended
	m.Start()
}

// KillOnceSaved is Kill once the file of its persistence, in dir, holds the pattern.
func (m *Mosquitto) KillOnceSaved(dir string, pattern *regexp.Regexp) {
	m.t.Helper()
	deadline := time.Now().Add(patience)
	for saved := false; !saved; {
		data, err := os.ReadFile(filepath.Join(dir, "mosquitto.db"))
		saved = err == nil && pattern.Match(data)
		if time.Now().After(deadline) {
			m.t.Fatalf("mosquitto did not save %s: %v", pattern, err)
		}
		time.Sleep(10 * time.Millisecond) // a real process: nothing to wait on but its file
	}
	m.Kill()
}

// Pub runs mosquitto_pub, which ends when the broker has acknowledged.
func Pub(t testing.TB, addr, topic, payload string, qos int, more ...string) error {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatal(err)
	}
	args := append([]string{"-h", host, "-p", port, "-t", topic, "-m", payload, "-q", strconv.Itoa(qos)}, more...)
	out, err := exec.CommandContext(ctx, tool(t, "mosquitto_pub"), args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("mosquitto_pub: %w: %s", err, out)
	}
	return nil
}

// Sub runs mosquitto_sub until the first message on a topic, and returns its payload.
func Sub(t testing.TB, addr, topic string, more ...string) (string, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	host, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatal(err)
	}
	args := append([]string{"-h", host, "-p", port, "-t", topic, "-q", "1", "-C", "1", "-N"}, more...)
	out, err := exec.CommandContext(ctx, tool(t, "mosquitto_sub"), args...).CombinedOutput()
	if err == nil && bytes.Contains(out, []byte("denied")) {
		err = errors.New("denied")
	}
	if err != nil {
		return "", fmt.Errorf("mosquitto_sub: %w: %s", err, out)
	}
	return string(out), nil
}

// tool finds a program of the mosquitto packages.
func tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if path = "/usr/sbin/" + name; exists(path) { // not on everyone's PATH
		return path
	}
	t.Fatalf("%s is not installed: these tests talk to the real thing (Debian: apt-get install mosquitto mosquitto-clients)", name)
	return ""
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// addresses are those that were given out by this process.
var addresses sync.Map

// FreeAddress is a host:port of this machine on which nobody listens: where something comes back
// after each end, or where nobody is.
func FreeAddress(t testing.TB) string {
	t.Helper()
	for range 100 {
		// Below those that the system gives to who asks for any: a test beside this one would get it.
		addr := fmt.Sprintf("127.0.0.1:%d", 10_000+rand.IntN(20_000))
		if _, given := addresses.LoadOrStore(addr, true); given { // to a test that has not begun to listen yet
			continue
		}
		if l, err := net.Listen("tcp", addr); err == nil {
			l.Close()
			return addr
		}
	}
	t.Fatal("no port is free")
	return ""
}
